"""A channel's run reads a few rows of big tables by their indexes, whatever the statistics.

The tables hold thousands of rows while the server believes them to be empty, as it does after a
first big import; no statement of a small night may read a whole table, or all of a shop's rows.
"""

from __future__ import annotations

from typing import Any

from tests.channel_world import ChannelWorld
from tests.database import Clone
from tests.evidence_world import make_world

from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.work.channel_stock import Place
from stallkeep.work.reconcile_channel import reconcile_news

BIG = 3_000
MOST = 400
"""Rows that one step of a plan may read for a few new sales."""
_FILL = """
with made as (
  insert into item (shop_id, id, tag_code, title, price_minor)
  select $1, gen_random_uuid(), 'F' || n, 'name' || n || ' old jug', 1500
    from generate_series(1, $4) n returning id, tag_code
), listed as (
  insert into listing (shop_id, id, channel_id, item_id, reference, title, price_minor, state)
  select $1, gen_random_uuid(), $2, id, 'R' || tag_code, 'x', 1500, 'live' from made
)
insert into transaction (shop_id, id, channel_id, import_id, row_key, content_key, kind,
                         amount_minor, currency, occurred_on, ordered_at, reference, match_state)
select $1, gen_random_uuid(), $2, $3, 'fill:' || n, gen_random_uuid(), 'sale', 1500, 'EUR',
       date '2026-05-01', timestamptz '2026-05-01 12:00+00', 'RF' || n, 'unmatched'
  from generate_series(1, $4) n
"""


class Watched:
    """A connection that notes how every statement was planned and what it read."""

    def __init__(self, con: Connection, plans: list[tuple[str, Any]]) -> None:
        self._con = con
        self._plans = plans

    async def fetch(self, query: str, *values: object) -> Any:  # noqa: ANN401 - the driver's
        if query.lstrip().startswith(("select", "with")):
            explain = "explain (analyze, format json, timing off) "
            await self._con.execute("savepoint before")
            plan = await self._con.fetchval(explain + query, *values)
            await self._con.execute("rollback to savepoint before")
            self._plans.append((query, plan[0]["Plan"]))
        return await self._con.fetch(query, *values)

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - all else is the driver's
        return getattr(self._con, name)


def read_by(plan: dict[str, Any]) -> list[tuple[str, str, float]]:
    """Steps that read a table: how, which one, and how many rows each time."""
    own = []
    if "Relation Name" in plan:
        dropped = plan.get("Rows Removed by Filter", 0)
        own = [(plan["Node Type"], plan["Relation Name"], plan["Actual Rows"] + dropped)]
    return own + [step for inner in plan.get("Plans", ()) for step in read_by(inner)]


async def test_a_small_night_reads_no_big_table_whole(database: Clone, monkeypatch: Any) -> None:  # noqa: ANN401
    made = ChannelWorld(await make_world(database.pool), seed=1)
    await made.bring_sales()
    import_id = new_id()
    await made.run(
        "insert into import (shop_id, id, channel_id, importer, file_name, state) "
        "values ($1, $2, $3, 'test', 'fill.csv', 'running')",
        import_id,
        made.world.online,
    )
    await made.run(_FILL, made.world.online, import_id, BIG)
    await made.run("update import set state = 'done' where shop_id = $1 and id = $2", import_id)
    first = await reconcile_news(made.world.pool, made.world.shop, made.world.online)
    assert first is not None
    assert first.counts["matched"] == BIG

    await made.list_items()
    await made.bring_sales()
    await made.bring_refunds()
    await made.sell_elsewhere()
    plans: list[tuple[str, Any]] = []

    def watched(con: Any, *rest: Any) -> Place:  # noqa: ANN401 - as the class itself
        return Place(Watched(con, plans), *rest)

    monkeypatch.setattr("stallkeep.work.reconcile_channel.Place", watched)
    assert await reconcile_news(made.world.pool, made.world.shop, made.world.online) is not None
    assert len(plans) > 20
    for query, plan in plans:
        for how, table, rows in read_by(plan):
            assert how != "Seq Scan", (table, query)
            assert rows <= MOST, (how, table, rows, query)
