"""Every row once: the same file, an overlap, a changed row, equal rows, other kinds."""

from __future__ import annotations

import asyncio
import datetime as dt
from itertools import pairwise

import pytest
from tests.database import Clone
from tests.evidence_world import make_world

from stallkeep.work.import_errors import ImportQuestionError, RowsAreMatchedError
from stallkeep.work.named_pieces import PiecePrice
from stallkeep.work.rule_on_transaction import confirm
from stallkeep.work.undo_import import undo_import

HEADER = "Date,Time,Transaction ID,Amount,Currency,Fee,Note\n"
A = "2026-09-11,10:12:00,p-1,68.00,EUR,1.70,\n"
B = "2026-09-11,11:40:00,p-2,24.00,EUR,0.65,A17-AH1\n"
B_LATER = "2026-09-11,11:40:00,p-2,22.00,EUR,0.60,A17-AH1\n"
C = "2026-09-11,12:05:00,p-3,15.00,EUR,0.43,\n"
NO_ID_HEADER = "Date,Time,Amount,Currency,Note\n"
CARDS = "card-reader-payments"
TWIN = "2026-09-11,10:12:00,12.00,EUR,\n"

AMOUNTS = "select amount_minor, version from transaction where shop_id = $1 order by ordered_at, id"


async def test_a_file_taken_in_twice_adds_nothing(database: Clone) -> None:
    world = await make_world(database.pool)
    first = await world.take_in(HEADER + A + B)
    again = await world.take_in(HEADER + A + B)
    assert (first.taken, first.known) == (2, 0)
    assert (again.taken, again.known) == (0, 2)
    assert again.rows_read == again.taken + again.known + again.rejected + again.skipped
    assert len(await world.rows(AMOUNTS)) == 2


async def test_an_overlapping_file_adds_only_what_is_new(database: Clone) -> None:
    world = await make_world(database.pool)
    await world.take_in(HEADER + A + B)
    second = await world.take_in(HEADER + B + C)
    assert (second.taken, second.known) == (1, 1)
    assert [row["amount_minor"] for row in await world.rows(AMOUNTS)] == [6800, 2400, 1500]


async def test_a_row_that_comes_back_changed_is_a_new_version(database: Clone) -> None:
    world = await make_world(database.pool)
    await world.take_in(HEADER + A + B)
    second = await world.take_in(HEADER + B_LATER + C)
    assert (second.taken, second.changed, second.known) == (2, 1, 0)
    assert [(r["amount_minor"], r["version"]) for r in await world.rows(AMOUNTS)] == [
        (6800, 1),
        (2200, 2),
        (1500, 1),
    ]
    old = await world.rows("select amount_minor from transaction_version where shop_id = $1")
    assert old == [{"amount_minor": 2400}]


async def test_an_older_file_does_not_bring_an_old_version_back(database: Clone) -> None:
    world = await make_world(database.pool)
    await world.take_in(HEADER + B)
    await world.take_in(HEADER + B_LATER)
    late = await world.take_in(HEADER + B, name="found-again.csv")
    assert (late.taken, late.known) == (0, 1)
    assert [row["amount_minor"] for row in await world.rows(AMOUNTS)] == [2200]


async def test_equal_rows_without_an_id_are_counted(database: Clone) -> None:
    world = await make_world(database.pool)
    first = await world.take_in(NO_ID_HEADER + TWIN + TWIN, importer=CARDS)
    again = await world.take_in(NO_ID_HEADER + TWIN + TWIN + TWIN, importer=CARDS)
    assert (first.taken, first.known) == (2, 0)
    assert (again.taken, again.known) == (1, 2)
    assert [row["amount_minor"] for row in await world.rows(AMOUNTS)] == [1200] * 3


async def test_a_file_sorted_another_way_adds_nothing(database: Clone) -> None:
    world = await make_world(database.pool)
    await world.take_in(HEADER + A + B + C)
    again = await world.take_in(HEADER + C + A + B)
    assert (again.taken, again.known) == (0, 3)


async def test_two_uploads_at_the_same_time_take_each_row_once(database: Clone) -> None:
    world = await make_world(database.pool)
    file = HEADER + A + B + C
    done = await asyncio.gather(*(world.take_in(file) for _ in range(4)))
    assert sorted(one.taken for one in done) == [0, 0, 0, 3]
    assert len(await world.rows(AMOUNTS)) == 3


async def test_an_import_undone_leaves_nothing_and_restores_versions(database: Clone) -> None:
    world = await make_world(database.pool)
    await world.take_in(HEADER + A + B)
    second = await world.take_in(HEADER + B_LATER + C)
    undone = await undo_import(world.pool, world.shop, second.id, release=False)
    assert undone.state == "undone"
    assert [row["amount_minor"] for row in await world.rows(AMOUNTS)] == [6800, 2400]
    redone = await world.take_in(HEADER + B_LATER + C)
    assert (redone.taken, redone.changed) == (2, 1)


def forty_days(first: dt.date, *, changed: bool = False, without: int | None = None) -> str:
    """An export of 40 days, two payments a day; the 30th row may differ, one may be missing."""
    rows = []
    for n in range(80):
        day = first + dt.timedelta(days=n // 2)
        number = (day - dt.date(2026, 7, 1)).days * 2 + n % 2
        amount = "99.00" if changed and number == 30 else f"{10 + number}.00"
        if number != without:
            rows.append(f"{day},{11 + n % 2}:00:00,q-{number},{amount},EUR,0.50,\n")
    return HEADER + "".join(rows)


async def test_an_overlap_of_forty_days_takes_the_new_days_and_the_change(database: Clone) -> None:
    world = await make_world(database.pool)
    await world.take_in(forty_days(dt.date(2026, 7, 1)))
    second = await world.take_in(forty_days(dt.date(2026, 7, 11), changed=True, without=40))
    # 80 rows less the vanished one: 20 are of new days, one has changed, the rest is known.
    assert (second.taken, second.changed, second.known) == (21, 1, 58)
    assert [notice["code"] for notice in second.notices] == ["rows-vanished"]
    assert second.notices[0]["text"].startswith("1 row(s)")
    stored = await world.rows(
        "select external_id, amount_minor, version from transaction "
        "where shop_id = $1 and external_id in ('q-30', 'q-40') order by 1"
    )
    assert [(r["external_id"], r["amount_minor"], r["version"]) for r in stored] == [
        ("q-30", 9900, 2),
        ("q-40", 5000, 1),
    ]


async def test_an_id_used_again_by_another_kind_of_row_is_its_own_transaction(
    database: Clone,
) -> None:
    world = await make_world(database.pool)
    header = "Date,Time,Transaction ID,Type,Amount,Currency,Fee\n"
    payment = "2026-09-11,10:12:00,p-1,Payment,68.00,EUR,1.70\n"
    refund = "2026-09-12,09:00:00,p-1,Refund,-68.00,EUR,0.00\n"
    await world.take_in(header + payment)
    second = await world.take_in(header + payment + refund)
    assert (second.taken, second.changed, second.known) == (1, 0, 1)
    kinds = await world.rows("select kind from transaction where shop_id = $1 order by ordered_at")
    assert [row["kind"] for row in kinds] == ["payment", "refund"]


async def test_two_sales_in_the_doubled_hour_with_offsets_are_two(database: Clone) -> None:
    # Summer time ends in Europe/Berlin on 25 October 2026 at 03:00, when it is 02:00 again.
    world = await make_world(database.pool)
    header = "Date,Transaction ID,Amount,Currency\n"
    rows = "2026-10-25T02:30:00+02:00,n-1,12.00,EUR\n2026-10-25T02:30:00+01:00,n-2,12.00,EUR\n"
    done = await world.take_in(header + rows, importer=CARDS)
    assert done.taken == 2
    first, second = await world.rows(
        "select occurred_at from transaction where shop_id = $1 order by occurred_at"
    )
    assert second["occurred_at"] - first["occurred_at"] == dt.timedelta(hours=1)


async def test_a_layout_that_changes_is_noticed_and_said(database: Clone) -> None:
    world = await make_world(database.pool)
    await world.take_in(HEADER + A)
    header = "Date,Time,Transaction ID,Amount,Currency,Fee,Tip,Note\n"
    done = await world.take_in(header + "2026-09-11,12:05:00,p-3,15.00,EUR,0.43,0.00,\n")
    (notice,) = [n for n in done.notices if n["code"] == "layout-changed"]
    assert "new: Tip" in notice["text"]


async def test_rows_without_ids_sorted_another_way_add_nothing(database: Clone) -> None:
    world = await make_world(database.pool)
    other = "2026-09-11,11:00:00,7.00,EUR,\n"
    first = await world.take_in(NO_ID_HEADER + TWIN + other + TWIN, importer=CARDS)
    again = await world.take_in(NO_ID_HEADER + other + TWIN + TWIN, importer=CARDS)
    assert (first.taken, again.taken, again.known) == (3, 0, 3)


async def test_uploads_of_equal_rows_at_the_same_time_count_them_once(database: Clone) -> None:
    # The fuller file decides, whichever comes first: two equal sales, and three of another kind.
    world = await make_world(database.pool)
    other = "2026-09-11,11:00:00,7.00,EUR,\n"
    files = [NO_ID_HEADER + TWIN + TWIN + other, NO_ID_HEADER + TWIN + other * 3]
    done = await asyncio.gather(*(world.take_in(f, importer=CARDS) for f in files * 2))
    assert sum(one.taken for one in done) == 5
    amounts = [row["amount_minor"] for row in await world.rows(AMOUNTS)]
    assert sorted(amounts) == [700, 700, 700, 1200, 1200]


async def test_two_exports_that_overlap_sent_at_the_same_time_are_joined(database: Clone) -> None:
    world = await make_world(database.pool)
    one, other = forty_days(dt.date(2026, 7, 1)), forty_days(dt.date(2026, 7, 11))
    done = await asyncio.gather(*(world.take_in(file) for file in (one, other, one)))
    assert sum(each.taken for each in done) == 100  # 50 days, two a day
    assert sum(each.known for each in done) == 140
    assert len(await world.rows(AMOUNTS)) == 100


async def test_the_night_the_clock_goes_back_is_asked_about_once(database: Clone) -> None:
    # 02:30 comes twice in Europe/Berlin on 25 October 2026; 01:59 and 03:30 do not.
    world = await make_world(database.pool)
    header = "Date,Time,Transaction ID,Amount,Currency\n"
    night = [
        f"2026-10-25,{at}:00,n-{n},12.00,EUR\n" for n, at in enumerate(("01:59", "02:30", "03:30"))
    ]
    with pytest.raises(ImportQuestionError) as asked:
        await world.take_in(header + "".join(night), importer=CARDS)
    assert asked.value.facts["question"]["parameter"] == "clock_change"  # type: ignore[index]
    answers = {"clock_change": "later"}
    first = await world.take_in(header + "".join(night), importer=CARDS, answers=answers)
    again = await world.take_in(header + "".join(reversed(night)), importer=CARDS)
    assert (first.taken, again.taken, again.known) == (3, 0, 3)
    found = await world.rows(
        "select occurred_at from transaction where shop_id = $1 order by occurred_at"
    )
    gaps = [b["occurred_at"] - a["occurred_at"] for a, b in pairwise(found)]
    assert gaps == [dt.timedelta(minutes=91), dt.timedelta(minutes=60)]


async def test_a_time_that_never_was_is_a_reject(database: Clone) -> None:
    # 02:30 is left out in Europe/Berlin on 29 March 2026.
    world = await make_world(database.pool)
    header = "Date,Time,Transaction ID,Amount,Currency\n"
    rows = "2026-03-29,01:30:00,m-1,12.00,EUR\n2026-03-29,02:30:00,m-2,13.00,EUR\n"
    done = await world.take_in(header + rows, importer=CARDS)
    assert (done.taken, done.rejected) == (1, 1)


async def test_matched_rows_are_let_go_when_their_import_is_undone_and_come_back_open(
    database: Clone,
) -> None:
    world = await make_world(database.pool)
    file = HEADER + A + B
    first = await world.take_in(file)
    (paid,) = await world.rows(
        "select id from transaction where shop_id = $1 and external_id = 'p-2'"
    )
    await confirm(world.pool, world.shop, paid["id"], [PiecePrice(tag_code="A17AH1")], "Ada")
    with pytest.raises(RowsAreMatchedError, match="1 of its rows"):
        await undo_import(world.pool, world.shop, first.id, release=False)
    assert len(await world.rows(AMOUNTS)) == 2
    await undo_import(world.pool, world.shop, first.id, release=True)
    gone = "select tag_code from item where shop_id = $1 and sold > 0"
    assert (await world.rows(AMOUNTS), await world.rows(gone)) == ([], [])
    again = await world.take_in(file)
    assert (again.taken, again.known) == (2, 0)
    states = await world.rows("select distinct match_state from transaction where shop_id = $1")
    assert states == [{"match_state": "unmatched"}]
