"""Lines of sales take their pieces off the stock and give them back, statement by statement."""

from __future__ import annotations

from uuid import UUID

import asyncpg
import pytest
from tests.channel_world import ChannelWorld
from tests.database import Clone
from tests.evidence_world import make_world

from stallkeep.store.engine import constraint_of
from stallkeep.store.ids import new_id

_LINES = """
insert into sale_line (shop_id, sale_id, line_no, item_id, title, quantity, price_minor)
select $1, $2, u.number + (select count(*) from sale_line), u.item_id, 'x', u.quantity, 100
  from unnest($3::uuid[], $4::int[]) with ordinality as u (item_id, quantity, number)
"""


class Shop(ChannelWorld):
    """A shop with two items, three pieces of each, and a sale without lines."""

    async def open(self) -> tuple[UUID, UUID, UUID]:
        one, other, sale = sorted(new_id() for _ in range(3))  # of one millisecond, maybe
        for item in (one, other):
            await self.run(
                "insert into item (shop_id, id, tag_code, title, quantity) "
                "values ($1, $2, 'T' || gen_random_uuid(), 'counted jug', 3)",
                item,
            )
        await self.run(
            "insert into sale (shop_id, id, channel_id, origin, total_minor, sold_on) "
            "values ($1, $2, $3, 'typed', 0, '2026-05-04')",
            sale,
            self.world.online,
        )
        return one, other, sale

    async def sold(self) -> list[int]:
        rows = await self.world.rows(
            "select sold from item where shop_id = $1 and title = 'counted jug' order by id"
        )
        return [row["sold"] for row in rows]


@pytest.fixture
async def shop(database: Clone) -> Shop:
    return Shop(await make_world(database.pool), seed=1)


async def test_many_lines_of_one_statement_are_counted_together(shop: Shop) -> None:
    one, other, sale = await shop.open()
    await shop.run(_LINES, sale, [one, other, one, None], [1, 3, 2, 5])
    assert await shop.sold() == [3, 3]
    returned = "update sale_line set state = 'returned' where shop_id = $1 and item_id = $2"
    await shop.run(returned, one)
    assert await shop.sold() == [0, 3]
    await shop.run("delete from sale_line where shop_id = $1")
    assert await shop.sold() == [0, 0]


async def test_lines_that_together_sell_too_many_are_refused_as_a_whole(shop: Shop) -> None:
    one, other, sale = await shop.open()
    with pytest.raises(asyncpg.CheckViolationError) as refused:
        await shop.run(_LINES, sale, [other, one, one], [1, 2, 2])
    assert constraint_of(refused.value) == "item_sold_within_quantity"
    assert await shop.sold() == [0, 0]


async def test_a_batch_costs_what_it_did_whether_its_pieces_go_at_once_or_singly(
    shop: Shop,
) -> None:
    one, other, sale = await shop.open()
    for item in (one, other):
        await shop.run(
            "insert into batch (shop_id, id, item_id, quantity, cost_minor) "
            "values ($1, $2, $3, 3, 1000)",
            new_id(),
            item,
        )
    await shop.run(_LINES, sale, [one, one, one], [1, 1, 1])
    for _ in range(3):
        await shop.run(_LINES, sale, [other], [1])
    rows = await shop.world.rows(
        "select array_agg(cost_minor order by line_no) as costs from sale_line where shop_id = $1 "
        "group by item_id"
    )
    assert [sum(row["costs"]) for row in rows] == [1000, 1000]
    assert rows[0] == rows[1]
