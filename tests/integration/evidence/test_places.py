"""Files sent to the wrong place, rows of other days, and imports taken back."""

from __future__ import annotations

import datetime as dt
import io
from typing import Any
from uuid import UUID

import pytest
from tests.database import Clone
from tests.evidence_world import World, make_world

from stallkeep.store import imports
from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id
from stallkeep.work.import_errors import (
    FileIsElsewhereError,
    ImportNotUndoableError,
    PlacesDifferError,
)
from stallkeep.work.import_file import ImportOrder, Upload, import_file
from stallkeep.work.reconcile import reconcile_event
from stallkeep.work.retry_reject import retry_reject
from stallkeep.work.undo_import import undo_import

CARDS = "Date,Time,Transaction ID,Type,Amount,Original transaction\n"
PAID = "2026-09-11,10:12:00,p-1,Sale,24.00,\n"
TWICE = "2026-09-11,10:13:00,p-2,Sale,24.00,\n"
REFUND = "2026-09-15,09:00:00,r-2,Refund,-24.00,p-2\n"
TALLY = "Date,Time,Amount,Note\n2026-09-11,10:12,12.00,\n"
STUBS = "Day,Tag code\n2026-09-11,996-AAD\n2026-09-11,A17-AH1\n"
OF_EVENT = "select event_id, external_id from transaction where shop_id = $1 order by ordered_at"
COUNT = "Tag code,Quantity\n996-AAD,1\n"
KEPT = "select tag_code from stub where shop_id = $1 order by day, position"
COSTS = "select event_id, amount_minor from cost where shop_id = $1 order by amount_minor"


async def _second_event(world: World) -> UUID:
    event_id, day = new_id(), dt.date(2026, 10, 3)
    async with scope(world.pool, world.shop.shop_id) as con:
        await con.execute(
            "insert into event (shop_id, id, channel_id, name, starts_on, ends_on) "
            "values ($1, $2, $3, 'Mill yard', $4, $4)",
            *(world.shop.shop_id, event_id, world.stall, day),
        )
        await con.execute(
            "insert into event_day (shop_id, event_id, day) values ($1, $2, $3)",
            *(world.shop.shop_id, event_id, day),
        )
    return event_id


async def test_an_events_channel_is_that_of_a_file_sent_with_the_event_alone(
    database: Clone,
) -> None:
    world = await make_world(database.pool)
    upload = Upload(io.BytesIO(TALLY.encode()), "tally.csv", len(TALLY))
    order = ImportOrder(event_id=world.event, by="owner")
    record = await import_file(world.pool, world.shop, upload, order)
    assert (record.taken, record.channel_id, record.event_id) == (1, world.stall, world.event)


async def test_a_channel_and_an_event_of_another_are_not_taken_together(database: Clone) -> None:
    world = await make_world(database.pool)
    with pytest.raises(PlacesDifferError, match="Quay market is an event of the channel Stall"):
        await world.take_in(TALLY, channel=world.online, event_id=world.event)


async def test_a_file_taken_in_for_one_channel_is_refused_for_another(database: Clone) -> None:
    world = await make_world(database.pool)
    first = await world.take_in(CARDS + PAID)
    with pytest.raises(FileIsElsewhereError, match="for the channel Stall on") as refused:
        await world.take_in(CARDS + PAID, channel=world.online)
    assert refused.value.facts["other_import_id"] == str(first.id)
    await undo_import(world.pool, world.shop, first.id, release=True)
    assert (await world.take_in(CARDS + PAID, channel=world.online)).taken == 1


async def test_stubs_of_one_event_are_refused_for_another(database: Clone) -> None:
    world = await make_world(database.pool)
    await world.take_in(STUBS, importer="stubs", event_id=world.event)
    with pytest.raises(FileIsElsewhereError, match="for the event Quay market"):
        await world.take_in(STUBS, importer="stubs", event_id=await _second_event(world))


async def test_rows_of_another_events_day_go_to_that_event_and_a_notice_says_so(
    database: Clone,
) -> None:
    world = await make_world(database.pool)
    record = await world.take_in(
        CARDS + PAID + "2026-12-24,10:00:00,p-9,Sale,5.00,\n", event_id=await _second_event(world)
    )
    assert [row["event_id"] for row in await world.rows(OF_EVENT)] == [world.event, None]
    told = [notice["text"] for notice in record.notices]
    assert told[0] == (
        "Not on a day of Mill yard: 2026-09-11. What was sold then belongs to Quay market."
    )
    assert told[1].startswith("Not on a day of Mill yard: 2026-12-24.")


@pytest.mark.parametrize("at_once", [True, False])
async def test_a_refund_days_later_is_the_event_s_whose_payment_it_names(
    database: Clone, at_once: bool
) -> None:
    world = await make_world(database.pool)
    if at_once:
        await world.take_in(CARDS + PAID + TWICE + REFUND)
    else:
        await world.take_in(CARDS + REFUND)
        await world.take_in(CARDS + PAID + TWICE)
        await reconcile_event(world.pool, world.shop, world.event)
    assert {row["event_id"] for row in await world.rows(OF_EVENT)} == {world.event}


async def test_stubs_of_a_day_that_is_none_of_the_events_are_rejected(database: Clone) -> None:
    world = await make_world(database.pool)
    record = await world.take_in(STUBS, importer="stubs", event_id=await _second_event(world))
    assert (record.taken, record.rejected) == (0, 2)
    assert await world.rows(KEPT) == []


async def test_a_second_list_of_stubs_of_a_day_adds_to_the_first(database: Clone) -> None:
    world = await make_world(database.pool)
    await world.take_in(STUBS, importer="stubs")
    more = "Day,Tag code\n2026-09-11,WNF-7TT\n2026-09-11,996-AAD\n2026-09-11,996-AAD\n"
    second = await world.take_in(more, importer="stubs")
    assert (second.taken, second.known, second.changed) == (2, 1, 0)
    codes = [row["tag_code"] for row in await world.rows(KEPT)]
    assert codes == ["996AAD", "A17AH1", "WNF7TT", "996AAD"]
    assert (await world.take_in(more, importer="stubs")).taken == 0


async def test_a_price_added_to_a_stub_changes_it(database: Clone) -> None:
    world = await make_world(database.pool)
    await world.take_in(STUBS, importer="stubs")
    record = await world.take_in("Day,Tag code,Price\n2026-09-11,A17-AH1,22.00\n", importer="stubs")
    assert (record.taken, record.changed) == (1, 1)
    assert len(await world.rows(KEPT)) == 2


async def test_receipts_numbered_anew_for_the_next_market_are_costs_of_their_own(
    database: Clone,
) -> None:
    world = await make_world(database.pool)
    header, second = "Date,Receipt no,Category,Total\n", await _second_event(world)
    first = header + "2026-09-11,R-1,Parking,8.00\n2026-09-11,R-2,Food,11.40\n"
    await world.take_in(first)
    record = await world.take_in(header + "2026-10-03,R-1,Parking,6.00\n")
    assert (record.taken, record.changed) == (1, 0)
    assert await world.rows(COSTS) == [
        {"event_id": second, "amount_minor": 600},
        {"event_id": world.event, "amount_minor": 800},
        {"event_id": world.event, "amount_minor": 1140},
    ]
    again = await world.take_in(first + "2026-09-12,R-3,Food,2.00\n")
    assert (again.taken, again.known) == (1, 2)


async def test_what_an_event_keeps_is_not_said_to_be_undone(database: Clone) -> None:
    world = await make_world(database.pool)
    stubs = await world.take_in(STUBS, importer="stubs")
    with pytest.raises(ImportNotUndoableError, match="PUT /v1/events/"):
        await undo_import(world.pool, world.shop, stubs.id, release=True)
    count = await world.take_in(COUNT, importer="stock-count", event_id=world.event)
    with pytest.raises(ImportNotUndoableError, match="DELETE /v1/events/"):
        await undo_import(world.pool, world.shop, count.id, release=True)


async def test_a_row_corrected_by_hand_is_undone_with_its_import(database: Clone) -> None:
    world = await make_world(database.pool)
    file = CARDS + PAID + "2026-09-11,11:00:00,p-7,Sale,many,\n"
    first = await world.take_in(file, name="friday.csv")
    async with scope(world.pool, world.shop.shop_id) as con:
        (bad,) = await imports.list_rejects(con, world.shop.shop_id, first.id, 10, 0)
    cells = ["7.00" if cell == "many" else cell for cell in bad.cells]
    row = await retry_reject(world.pool, world.shop, first.id, bad.record, cells, "Ada")
    assert len(await world.rows(OF_EVENT)) == 2
    await undo_import(world.pool, world.shop, first.id, release=True)
    assert await world.rows(OF_EVENT) == []
    states = await world.rows("select id, state from import where shop_id = $1 order by started_at")
    assert states == [{"id": one, "state": "undone"} for one in (first.id, row.id)]


async def test_what_an_undone_import_had_changed_is_told(database: Clone) -> None:
    world = await make_world(database.pool)
    listings = "Listing,Title,Own code,Price,Status\nL-1,Navy wool coat,996AAD,{},live\n"
    said: dict[str, Any] = {"channel": world.online, "importer": "resale-listings"}
    await world.take_in(listings.format("72.00"), **said)
    second = await world.take_in(listings.format("60.00"), **said)
    assert second.changed == 1
    undone = await undo_import(world.pool, world.shop, second.id, release=False)
    assert [notice["code"] for notice in undone.notices] == ["changes-stay"]


async def test_pieces_that_stay_after_an_undoing_are_named(database: Clone) -> None:
    world = await make_world(database.pool)
    listings = "Listing,Title,Own code,Price,Status\nL-1,Oak stool,M4R7HE,30.00,live\n"
    record = await world.take_in(listings, channel=world.online, importer="resale-listings")
    assert record.taken == 1
    async with scope(world.pool, world.shop.shop_id) as con:
        await con.execute(
            "insert into rail (shop_id, event_id, item_id) "
            "select $1, $2, id from item where shop_id = $1 and import_id = $3",
            *(world.shop.shop_id, world.event, record.id),
        )
    undone = await undo_import(world.pool, world.shop, record.id, release=False)
    (notice,) = undone.notices[len(record.notices) :]
    assert notice["text"].startswith("1 piece stays in stock")
    assert "M4R7HE" in notice["text"]
