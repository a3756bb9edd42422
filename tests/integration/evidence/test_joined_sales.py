"""A card part and a cash part of one sale, joined by a person's word, on a real database."""

from __future__ import annotations

from uuid import UUID

import pytest
from tests.database import Clone
from tests.evidence_world import FRIDAY, World, make_world

from stallkeep.domain.errors import RejectedInputError
from stallkeep.store.engine import read_scope, scope
from stallkeep.store.ids import new_id
from stallkeep.work import rule_on_transaction as rule
from stallkeep.work.event_result import event_result
from stallkeep.work.free_pieces import PieceSpokenForError
from stallkeep.work.join_payments import NotOneSaleError, join_payments
from stallkeep.work.keep_apart import SaidToBeOneSaleError, keep_apart
from stallkeep.work.named_pieces import PiecePrice
from stallkeep.work.reconcile import reconcile_event
from stallkeep.work.undo_import import undo_import

CARDS = (
    "Date,Time,Transaction ID,Amount,Currency,Fee,Note\n"
    "2026-09-11,10:12:00,p-1,48.00,EUR,0.65,\n"
    "2026-09-11,11:40:00,p-2,24.00,EUR,0.43,\n"
    "2026-09-12,11:40:00,p-3,20.00,EUR,0.43,\n"
)
TALLY = "Date,Time,Amount,Method\n2026-09-11,10:13,20.00,cash\n"
LINES = """
select coalesce(external_id, 'tally') as line, match_state from transaction where shop_id = $1
"""
SALES = """
select s.total_minor, s.method, i.tag_code, sl.price_minor from sale s
  join sale_line sl on sl.shop_id = s.shop_id and sl.sale_id = s.id
  join item i on i.shop_id = sl.shop_id and i.id = sl.item_id
 where s.shop_id = $1 and s.state = 'done' and i.tag_code = '996AAD'
"""
SOLD = "select sold from item where shop_id = $1 and tag_code = '996AAD'"
WORDS = """
select kind, withdrawn_at is null as stands from ruling where shop_id = $1 order by said_at, kind
"""


async def a_day(database: Clone) -> World:
    world = await make_world(database.pool)
    await world.take_in(CARDS)
    await world.take_in(TALLY, name="tally.csv")
    await reconcile_event(world.pool, world.shop, world.event)
    return world


async def line(world: World, name: str) -> UUID:
    query = "select id from transaction where shop_id = $1 and coalesce(external_id, 'tally') = $2"
    found: UUID = (await world.rows(query, name))[0]["id"]
    return found


async def joined(world: World, *others: str) -> None:
    ids = [await line(world, name) for name in others or ("tally",)]
    coat = [PiecePrice(tag_code="996-AAD")]
    await join_payments(world.pool, world.shop, await line(world, "p-1"), ids, coat, by="Ada")


async def states(world: World) -> dict[str, str]:
    return {row["line"]: row["match_state"] for row in await world.rows(LINES)}


async def takings(world: World) -> tuple[dict[str, int], dict[str, int]]:
    """Takings and matched takings, by method; they add up, or this fails."""
    async with read_scope(world.pool, world.shop.shop_id) as con:
        result = await event_result(con, world.shop, world.event)
    assert result.adds_up
    whole = {row.method: row.takings_minor for row in result.methods}
    return whole, {row.method: row.matched_minor for row in result.methods}


async def test_two_payments_become_one_sale_of_the_piece(database: Clone) -> None:
    world = await a_day(database)
    before, _ = await takings(world)
    await joined(world)
    found = await states(world)
    assert (found["p-1"], found["tally"]) == ("matched", "matched")
    assert await world.rows(SALES) == [
        {"total_minor": 6800, "method": None, "tag_code": "996AAD", "price_minor": 6800}
    ]
    after, matched = await takings(world)
    assert after == before
    assert (matched["card"] >= 4800, matched["cash"]) == (True, 2000)


async def test_the_word_is_kept_by_later_runs(database: Clone) -> None:
    world = await a_day(database)
    await joined(world)
    done = await reconcile_event(world.pool, world.shop, world.event)
    found = await states(world)
    assert (found["p-1"], found["tally"]) == ("matched", "matched")
    assert await world.rows(SOLD) == [{"sold": 1}]
    codes = {finding["code"] for finding in done.report["findings"]}
    assert not codes & {"perhaps-one-sale", "confirmed-beyond-quantity", "rulings-contradict"}


@pytest.mark.parametrize("named", ["p-1", "tally"])
async def test_taking_it_back_for_one_part_opens_all(database: Clone, named: str) -> None:
    world = await a_day(database)
    await joined(world)
    await rule.take_back(world.pool, world.shop, await line(world, named))
    found = await states(world)
    assert (found["p-1"], found["tally"]) == ("unmatched", "unmatched")
    assert await world.rows(SALES) == []
    assert await world.rows(SOLD) == [{"sold": 0}]
    words = await world.rows(WORDS)
    assert {(row["kind"], row["stands"]) for row in words} == {
        ("confirmed", False),
        ("part_of_sale", False),
    }


async def test_another_word_about_a_part_opens_the_rest(database: Clone) -> None:
    world = await a_day(database)
    await joined(world)
    await rule.set_aside(world.pool, world.shop, await line(world, "tally"), "Change", "Ada")
    found = await states(world)
    assert (found["p-1"], found["tally"]) == ("unmatched", "set_aside")
    assert await world.rows(SOLD) == [{"sold": 0}]


async def test_joining_again_with_a_third_part_replaces_the_sale(database: Clone) -> None:
    world = await a_day(database)
    await joined(world)
    await joined(world, "tally", "p-2")
    assert [row["total_minor"] for row in await world.rows(SALES)] == [9200]
    assert set((await states(world)).values()) >= {"matched"}
    assert (await states(world))["p-2"] == "matched"


async def test_a_piece_of_another_persons_word_is_not_taken(database: Clone) -> None:
    world = await a_day(database)
    coat = [PiecePrice(tag_code="996AAD")]
    await rule.confirm(world.pool, world.shop, await line(world, "p-2"), coat, "Bo")
    with pytest.raises(PieceSpokenForError):
        await joined(world)
    found = await states(world)
    assert found["p-2"] == "matched"
    assert found["tally"] != "matched"
    shown = await world.rows("select kind from conflict where shop_id = $1 and state = 'open'")
    assert {"kind": "second-claim"} in shown


async def test_a_sale_rung_up_before_is_linked_and_let_go_of_again(database: Clone) -> None:
    world = await a_day(database)
    await rung_up(world)
    await joined(world)
    linked = "select origin, transaction_id from sale where shop_id = $1 and total_minor = 6800"
    holder = await line(world, "p-1")
    assert await world.rows(linked) == [{"origin": "stall", "transaction_id": holder}]
    await rule.take_back(world.pool, world.shop, await line(world, "tally"))
    assert await world.rows(linked) == [{"origin": "stall", "transaction_id": None}]
    assert (await states(world))["p-1"] == "unmatched"


async def rung_up(world: World) -> None:
    sale, coat = new_id(), world.items["996AAD"]
    async with scope(world.pool, world.shop.shop_id) as con:
        await con.execute(
            "insert into sale (shop_id, id, channel_id, event_id, origin, total_minor, sold_on) "
            "values ($1, $2, $3, $4, 'stall', 6800, $5)",
            world.shop.shop_id, sale, world.stall, world.event, FRIDAY,
        )  # fmt: skip
        await con.execute(
            "insert into sale_line (shop_id, sale_id, line_no, item_id, price_minor) "
            "values ($1, $2, 1, $3, 6800)",
            world.shop.shop_id, sale, coat,
        )  # fmt: skip


async def test_payments_of_two_days_are_not_one_sale(database: Clone) -> None:
    world = await a_day(database)
    with pytest.raises(NotOneSaleError):
        await joined(world, "p-3")
    with pytest.raises(NotOneSaleError):
        await joined(world, "tally", "tally")


async def test_undoing_the_import_of_one_part_opens_the_other(database: Clone) -> None:
    world = await a_day(database)
    await joined(world)
    query = "select import_id from transaction where shop_id = $1 and external_id is null"
    tally = (await world.rows(query))[0]["import_id"]
    await undo_import(world.pool, world.shop, tally, release=True)
    assert (await states(world))["p-1"] == "unmatched"
    assert await world.rows(SOLD) == [{"sold": 0}]


async def told(world: World) -> list[set[str]]:
    """Pairs that a run tells of as perhaps one sale, by what the lines are called."""
    done = await reconcile_event(world.pool, world.shop, world.event)
    query = "select id, coalesce(external_id, 'tally') as line from transaction where shop_id = $1"
    name = {str(row["id"]): row["line"] for row in await world.rows(query)}
    return [
        {name[one] for one in finding["transaction_ids"]}
        for finding in done.report["findings"]
        if finding["code"] == "perhaps-one-sale"
    ]


async def test_two_sales_by_a_persons_word_are_not_told_of_until_it_is_taken_back(
    database: Clone,
) -> None:
    world = await a_day(database)
    assert await told(world) == [{"p-1", "tally"}]
    pair = [await line(world, "tally"), await line(world, "p-1")]
    for _ in range(2):
        await keep_apart(world.pool, world.shop, pair[0], pair[1], "Ada")
        assert await told(world) == []
    await rule.take_back(world.pool, world.shop, pair[1])
    assert await told(world) == [{"p-1", "tally"}]


async def test_one_sale_after_all_outweighs_two(database: Clone) -> None:
    world = await a_day(database)
    pair = [await line(world, "tally"), await line(world, "p-1")]
    await keep_apart(world.pool, world.shop, pair[0], pair[1], "Ada")
    await joined(world)
    assert (await states(world))["tally"] == "matched"
    words = await world.rows(WORDS)
    assert [row["stands"] for row in words if row["kind"] == "apart"] == [False]
    with pytest.raises(SaidToBeOneSaleError):
        await keep_apart(world.pool, world.shop, pair[0], pair[1], "Ada")


async def test_a_payment_is_no_other_sale_than_itself(database: Clone) -> None:
    world = await a_day(database)
    one = await line(world, "p-1")
    with pytest.raises(RejectedInputError):
        await keep_apart(world.pool, world.shop, one, one, "Ada")
