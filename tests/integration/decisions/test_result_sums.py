"""What the database adds up of an event is what its lines add up to, for events of every sort."""

from __future__ import annotations

from random import Random

import msgspec
import pytest
from tests.database import Clone
from tests.random_events import RandomEvent, make_random_event

from stallkeep.domain.settled import Settled
from stallkeep.domain.settled_lines import settled_of
from stallkeep.domain.settled_lines import unsettled as without_settled
from stallkeep.store.connection import Connection
from stallkeep.store.engine import read_scope, scope
from stallkeep.store.ids import new_id
from stallkeep.work.event_facts import event_facts, event_sums
from stallkeep.work.event_result import event_result

BATCHES = 4
SEEDS = range(60)
UNSETTLE = (
    "update item set quantity = 9",
    "update item set cost_minor = null where random() < 0.3",
    "update item set price_minor = null where random() < 0.15",
    "update item set margin_scheme = true where random() < 0.3",
    "update sale_line set cost_minor = null where random() < 0.3",
    "update sale_line set price_minor = 0 where random() < 0.1",
    "update sale_line set quantity = 3 where state = 'sold' and random() < 0.2",
    "update rail set quantity = 1 + floor(random() * 3) where random() < 0.4",
    "update rail set price_minor = floor(random() * 12000) where random() < 0.4",
    "update rail set counted_home = floor(random() * (quantity + 1)) where random() < 0.4",
    "update rail set counted_home = null where (select random() < 0.3) and random() < 0.5",
    "delete from rail where random() < 0.2",
    "update transaction set match_state = 'unmatched' where match_state = 'matched' "
    "and random() < 0.2",
    "update transaction set match_state = 'not_needed' where match_state = 'matched' "
    "and random() < 0.1",
    "update transaction set currency = 'USD' where random() < 0.1",
    "update transaction set method = null where random() < 0.1",
    "update transaction set method = 'online' where random() < 0.1",
    "update transaction set occurred_on = occurred_on + 9 where random() < 0.1",
    "update transaction set amount_minor = 0 where match_state = 'set_aside' and random() < 0.3",
    "update ruling set is_income = true where random() < 0.5",
    "update sale set state = 'void' where random() < 0.1",
    "update sale s set tax_minor = 5, total_minor = t.amount_minor - coalesce(t.tip_minor, 0) "
    "from transaction t where t.shop_id = s.shop_id and t.id = s.transaction_id "
    "and random() < 0.3",
)


@pytest.mark.parametrize("batch", range(BATCHES))
async def test_the_database_adds_up_what_the_lines_say(database: Clone, batch: int) -> None:
    for seed in SEEDS[batch::BATCHES]:
        made = await _make(database, seed)
        async with read_scope(database.pool, made.shop.shop_id) as con:
            lines = await event_facts(con, made.shop, made.event_id)
            facts, settled = await event_sums(con, made.shop, made.event_id)
            plain = await event_result(con, made.shop, made.event_id)
            told = await event_result(con, made.shop, made.event_id, explain=True)
        assert _ordered(settled) == _ordered(settled_of(lines)), f"seed {seed}"
        assert facts == without_settled(lines), f"seed {seed}"
        assert plain == msgspec.structs.replace(told, explained=None), f"seed {seed}"
        assert told.explained is not None
        sums = {figure.figure: figure.amount_minor for figure in told.explained}
        assert sums["net"] == plain.whole.net.expected_minor


async def test_the_random_events_meet_every_part_of_the_sums(database: Clone) -> None:
    empty = set(Settled.__struct_fields__)
    for seed in SEEDS:
        made = await _make(database, seed)
        async with read_scope(database.pool, made.shop.shop_id) as con:
            _, settled = await event_sums(con, made.shop, made.event_id)
        empty -= {name for name in empty if getattr(settled, name)}
    assert not empty


async def _make(database: Clone, seed: int) -> RandomEvent:
    """Make a random event, then take certainty from a part of it; every third stays settled."""
    made = await make_random_event(database.pool, seed)
    if seed % 3:
        async with scope(database.pool, made.shop.shop_id) as con:
            await con.execute("select setseed($1)", seed / 1000)
            for change in UNSETTLE:
                await con.execute(change)
            await _sell_elsewhere(con, made, Random(seed))  # noqa: S311 - chance for a test
    return made


async def _sell_elsewhere(con: Connection, made: RandomEvent, rng: Random) -> None:
    """Sell a listed item that came home, away from the event, while or after it is held."""
    item = await con.fetchval(
        "select item_id from rail where counted_home < quantity order by item_id limit 1"
    )
    if item is None or rng.random() < 0.5:
        return
    sale, shop_id = new_id(), made.shop.shop_id
    await con.execute(
        "insert into sale (shop_id, id, channel_id, origin, total_minor, sold_on) "
        "select shop_id, $1, channel_id, 'typed', 900, starts_on from event "
        "where name = 'Quay fair'",
        sale,
    )
    await con.execute(
        "insert into sale_line (shop_id, sale_id, line_no, item_id, price_minor) "
        "values ($1, $2, 1, $3, 900)",
        shop_id,
        sale,
        item,
    )


def _ordered(settled: Settled) -> Settled:
    """The same with its groups in one order: which of them comes first says nothing."""
    told = {
        name: tuple(sorted(getattr(settled, name), key=repr))
        for name in ("paid", "fees", "taxes", "sold", "pieces", "home_yet_paid")
    }
    return msgspec.structs.replace(settled, **told)
