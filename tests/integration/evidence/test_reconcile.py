"""From payments and pieces to matches, words and a result, on a real database."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import pytest
from tests.database import Clone
from tests.evidence_world import World, make_world

from stallkeep.store.engine import read_scope
from stallkeep.store.take_downs import list_take_downs
from stallkeep.work import rule_on_transaction as rule
from stallkeep.work.event_result import event_result
from stallkeep.work.free_pieces import PieceSpokenForError
from stallkeep.work.named_pieces import PiecePrice
from stallkeep.work.reconcile import reconcile_event

HEADER = "Date,Time,Transaction ID,Amount,Currency,Fee,Note\n"
CODE = "2026-09-11,10:12:00,p-1,24.00,EUR,0.65,A17-AH1\n"
ONE_PRICE = "2026-09-11,11:40:00,p-2,68.00,EUR,1.70,\n"
TWO_FIT = "2026-09-11,12:05:00,p-3,15.00,EUR,0.43,\n"
NOTHING = "2026-09-11,12:45:00,p-4,3.33,EUR,0.15,\n"

STATES = "select external_id, match_state from transaction where shop_id = $1"
SOLD = "select tag_code from item where shop_id = $1 and sold > 0 order by tag_code"


async def a_day(database: Clone) -> World:
    world = await make_world(database.pool)
    await world.take_in(HEADER + CODE + ONE_PRICE + TWO_FIT + NOTHING)
    await reconcile_event(world.pool, world.shop, world.event)
    return world


async def states(world: World) -> dict[str, str]:
    return {row["external_id"]: row["match_state"] for row in await world.rows(STATES)}


async def transaction(world: World, external_id: str) -> UUID:
    query = "select id from transaction where shop_id = $1 and external_id = $2"
    found: UUID = (await world.rows(query, external_id))[0]["id"]
    return found


async def test_a_code_in_the_note_settles_a_payment(database: Clone) -> None:
    world = await a_day(database)
    assert (await states(world))["p-1"] == "matched"
    sold = await world.rows(SOLD)
    assert {"tag_code": "A17AH1"} in sold


async def test_two_pieces_at_one_price_are_proposed_and_neither_is_sold(database: Clone) -> None:
    world = await a_day(database)
    assert (await states(world))["p-3"] == "proposed"
    codes = {row["tag_code"] for row in await world.rows(SOLD)}
    assert not codes & {"DE87TR", "GG15K0"}


async def test_running_again_gives_the_same_answer(database: Clone) -> None:
    world = await a_day(database)
    before = await states(world), await world.rows(SOLD)
    await reconcile_event(world.pool, world.shop, world.event)
    assert (await states(world), await world.rows(SOLD)) == before


async def test_a_choice_is_kept_by_later_runs(database: Clone) -> None:
    world = await a_day(database)
    pieces = [PiecePrice(tag_code="DE8-7TR")]
    await rule.confirm(world.pool, world.shop, await transaction(world, "p-3"), pieces, "Ada")
    await reconcile_event(world.pool, world.shop, world.event)
    assert (await states(world))["p-3"] == "matched"
    assert {"tag_code": "DE87TR"} in await world.rows(SOLD)


async def test_a_refused_piece_is_not_proposed_again(database: Clone) -> None:
    world = await a_day(database)
    wanted = await transaction(world, "p-3")
    await rule.refuse(world.pool, world.shop, wanted, [PiecePrice(tag_code="DE87TR")], "Ada")
    await reconcile_event(world.pool, world.shop, world.event)
    query = (
        "select array_agg(i.tag_code order by i.tag_code) as codes from match_item mi "
        "join match m on m.shop_id = mi.shop_id and m.id = mi.match_id "
        "join item i on i.shop_id = mi.shop_id and i.id = mi.item_id "
        "where mi.shop_id = $1 and m.transaction_id = $2 group by m.id"
    )
    sets = [row["codes"] for row in await world.rows(query, wanted)]
    assert ["DE87TR"] not in sets
    assert ["GG15K0"] in sets


async def test_a_person_takes_a_piece_from_an_engines_match(database: Clone) -> None:
    world = await a_day(database)
    other = await transaction(world, "p-4")
    await rule.confirm(world.pool, world.shop, other, [PiecePrice(tag_code="A17AH1")], "Ada")
    found = await states(world)
    assert (found["p-1"], found["p-4"]) == ("unmatched", "matched")


async def test_two_peoples_words_about_one_piece_become_a_conflict(database: Clone) -> None:
    world = await a_day(database)
    piece = [PiecePrice(tag_code="996AAD")]
    await rule.confirm(world.pool, world.shop, await transaction(world, "p-2"), piece, "Ada")
    with pytest.raises(PieceSpokenForError, match="Navy wool coat"):
        await rule.confirm(world.pool, world.shop, await transaction(world, "p-4"), piece, "Bo")
    shown = await world.rows("select kind, state from conflict where shop_id = $1")
    assert shown == [{"kind": "second-claim", "state": "open"}]
    assert (await states(world))["p-2"] == "matched"


async def test_a_payment_set_aside_stays_aside(database: Clone) -> None:
    world = await a_day(database)
    await rule.set_aside(
        world.pool, world.shop, await transaction(world, "p-4"), "A test of the reader", "Ada"
    )
    await reconcile_event(world.pool, world.shop, world.event)
    assert (await states(world))["p-4"] == "set_aside"


async def test_a_word_taken_back_opens_the_payment_again(database: Clone) -> None:
    world = await a_day(database)
    wanted = await transaction(world, "p-3")
    await rule.confirm(world.pool, world.shop, wanted, [PiecePrice(tag_code="DE87TR")], "Ada")
    await rule.take_back(world.pool, world.shop, wanted)
    assert (await states(world))["p-3"] == "unmatched"
    assert {"tag_code": "DE87TR"} not in await world.rows(SOLD)
    kept = await world.rows("select kind, withdrawn_at from ruling where shop_id = $1")
    assert kept[0]["kind"] == "confirmed"
    assert kept[0]["withdrawn_at"] is not None


async def test_the_result_conserves_every_cent(database: Clone) -> None:
    world = await a_day(database)
    async with read_scope(world.pool, world.shop.shop_id) as con:
        result = await event_result(con, world.shop, world.event)
    (card,) = result.methods
    parts = card.matched_minor + card.proposed_minor + card.unmatched_minor + card.set_aside_minor
    assert parts == card.takings_minor == 2400 + 6800 + 1500 + 333
    assert result.adds_up


async def test_a_sold_pieces_live_listing_must_come_down(database: Clone) -> None:
    world = await make_world(database.pool)
    listings = (
        "Listing ID,Title,Price,Status,Code\n"
        "L-1,Grey cardigan with horn buttons,26.00,live,A17AH1\n"
        "L-2,Waxed work jacket,35.00,live,WNF7TT\n"
    )
    taken = await world.take_in(listings, channel=world.online, importer="resale-listings")
    assert taken.taken == 2
    await world.take_in(HEADER + CODE)
    await reconcile_event(world.pool, world.shop, world.event)
    async with read_scope(world.pool, world.shop.shop_id) as con:
        found = await list_take_downs(
            con, world.shop.shop_id, at_least=0.5, limit=10, after=UUID(int=0)
        )
    assert [(t.reference, t.probability) for t in found] == [("L-1", 1.0)]


async def test_the_walls_hold_for_rows_and_sums(database: Clone) -> None:
    world = await a_day(database)
    other: Any = await make_world(database.pool)
    assert await other.rows("select 1 from transaction where shop_id = $1") == []
    async with read_scope(other.pool, other.shop.shop_id) as con:
        assert await con.fetchval("select count(*) from transaction") == 0
    assert len(await states(world)) == 4
