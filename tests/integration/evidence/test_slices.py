"""A file is taken in slices while it is read; what the slices hold makes no difference."""

from __future__ import annotations

import asyncio
import gc
import sys
from collections.abc import Callable
from random import Random
from typing import Any

import pytest
from tests.database import Clone
from tests.evidence_world import World, make_world

from stallkeep.store import imports, intake
from stallkeep.store.engine import scope
from stallkeep.work import intake_run, read_ahead
from stallkeep.work.import_errors import ImportQuestionError

CARDS = "card-reader-payments"
WITH_IDS = "Date,Time,Transaction ID,Amount,Currency,Note\n"
WITHOUT_IDS = "Date,Time,Amount,Currency,Note\n"
STORED = """
select row_key, occurrence, version, amount_minor, note,
       (select count(*) from transaction_version v
         where v.shop_id = t.shop_id and v.transaction_id = t.id) as older
  from transaction t where shop_id = $1 order by row_key, occurrence
"""


def with_ids(draw: Random, rows: int) -> str:
    """Few ids and few amounts: ids come again, with the same content and with other content."""
    return WITH_IDS + "".join(
        f"2026-09-11,10:{draw.randrange(3):02}:00,p-{draw.randrange(12)},"
        f"{draw.randrange(1, 4)}.00,EUR,\n"
        for _ in range(rows)
    )


def without_ids(draw: Random, rows: int) -> str:
    """Few different rows, so that most stand more than once."""
    return WITHOUT_IDS + "".join(
        f"2026-09-11,10:{draw.randrange(3):02}:00,{draw.randrange(1, 4)}.00,EUR,\n"
        for _ in range(rows)
    )


async def taken(world: World, files: list[str]) -> tuple[list[tuple[int, ...]], Any]:
    counts: list[tuple[int, ...]] = []
    for file in files:
        done = await world.take_in(file, importer=CARDS)
        assert done.rows_read == done.taken + done.known + done.rejected + done.skipped
        counts.append((done.rows_read, done.taken, done.changed, done.known))
    return counts, await world.rows(STORED)


@pytest.mark.parametrize("make", [with_ids, without_ids])
@pytest.mark.parametrize("seed", range(4))
async def test_slices_of_any_size_give_what_one_slice_gives(
    database: Clone, monkeypatch: pytest.MonkeyPatch, make: Callable[[Random, int], str], seed: int
) -> None:
    draw = Random(seed)  # noqa: S311 - a test's data
    files = [make(draw, 25) for _ in range(3)]
    whole = await taken(await make_world(database.pool), files)
    for rows in (1, 4, 7):
        monkeypatch.setattr(read_ahead, "SLICE_ROWS", rows)
        assert await taken(await make_world(database.pool), files) == whole


async def test_one_id_with_two_contents_in_two_slices_is_two_transactions(
    database: Clone, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(read_ahead, "SLICE_ROWS", 2)
    world = await make_world(database.pool)
    row = "2026-09-11,10:12:00,p-{},{}.00,EUR,\n"
    file = WITH_IDS + "".join(row.format(*it) for it in [(1, 10), (2, 20), (1, 11), (3, 30)])
    done = await world.take_in(file)
    assert (done.taken, done.changed, done.known) == (4, 0, 0)
    found = await world.rows(STORED)
    assert [(r["amount_minor"], r["occurrence"], r["version"]) for r in found] == [
        (1000, 1, 1),
        (1100, 2, 1),
        (2000, 1, 1),
        (3000, 1, 1),
    ]


async def test_cells_that_look_like_copys_own_marks_come_back_as_they_were(
    database: Clone,
) -> None:
    world = await make_world(database.pool)
    notes = [r"\N", "a\tb", r"back\slash", "two\nlines", r"\.", '"quoted"', "für Ines 🧶"]
    rows = "".join(
        '2026-09-11,10:12:00,p-{},5.00,EUR,"{}"\n'.format(n, note.replace('"', '""'))
        for n, note in enumerate(notes)
    )
    done = await world.take_in(WITH_IDS + rows, importer=CARDS)
    assert (done.taken, done.rejected) == (len(notes), 0)
    found = await world.rows("select note from transaction where shop_id = $1 order by external_id")
    assert [row["note"] for row in found] == notes


async def test_how_far_an_import_has_come_shows_while_it_runs(
    database: Clone, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(read_ahead, "SLICE_ROWS", 10)
    monkeypatch.setattr(intake_run, "PROGRESS_SECONDS", 0)
    world = await make_world(database.pool)
    seen: list[tuple[int, int]] = []
    note = imports.note_progress

    async def noted(*values: object) -> None:
        await note(*values)  # type: ignore[arg-type]
        seen.append(values[3:])  # type: ignore[arg-type]

    monkeypatch.setattr(imports, "note_progress", noted)
    file = with_ids(Random(1), 45)  # noqa: S311 - likewise
    await world.take_in(file)
    rows = [step[0] for step in seen]
    assert rows == [9, 19, 29, 39, 46]  # the layout is the first slice's tenth
    assert all(0 < step[1] <= len(file) for step in seen)


async def test_progress_leaves_the_row_alone_that_every_transaction_refers_to(
    database: Clone,
) -> None:
    # Its versions cannot be cleared away while the import runs: each row would walk past them all.
    world = await make_world(database.pool)
    done = await world.take_in(with_ids(Random(3), 5))  # noqa: S311 - likewise
    place = "select ctid from import where shop_id = $1"
    before = await world.rows(place)
    for rows in (1_000, 2_000):
        async with scope(world.pool, world.shop.shop_id) as con:
            await imports.note_progress(con, world.shop.shop_id, done.id, rows, 7 * rows)
    assert await world.rows(place) == before
    async with scope(world.pool, world.shop.shop_id) as con:
        found = await imports.find_import(con, world.shop.shop_id, done.id)
    assert found is not None
    assert (found.rows_read, found.bytes_read) == (2_000, 14_000)


async def test_two_slices_never_wait_for_each_other_in_two_uploads(
    database: Clone, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(read_ahead, "SLICE_ROWS", 5)
    world = await make_world(database.pool)
    file = with_ids(Random(2), 40)  # noqa: S311 - likewise
    first, *others = sorted(
        [
            (one.known, one.taken)
            for one in await asyncio.gather(*(world.take_in(file) for _ in "123"))
        ]
    )
    assert first[1] > 0
    assert all(taken == 0 for _, taken in others)


async def test_keys_are_looked_up_in_their_index_even_without_statistics(database: Clone) -> None:
    # The planner, left alone, takes an index of all rows of the channel here: quadratic time.
    world = await make_world(database.pool)
    async with scope(world.pool, world.shop.shop_id) as con:
        await intake.open_staging(con)
        await con.execute(intake._BEGIN_SLICE)
        where = (world.shop.shop_id, world.stall)
        take = await con.fetch("explain " + intake._TAKE_NEW, *where, None)
        hold = await con.fetch("explain " + intake._HOLD_OTHERS, *where)
    for plan in (take, hold):
        text = "\n".join(row[0] for row in plan)
        assert "using transaction_shop_id_channel_id_row_key_occurrence_key" in text
        assert "row_key = s.row_key" in text.split("Index Cond:")[1]


async def test_reading_leaves_the_interpreter_as_it_was(database: Clone) -> None:
    usual = sys.getswitchinterval(), gc.get_threshold()
    world = await make_world(database.pool)
    file = with_ids(Random(3), 20)  # noqa: S311 - likewise
    await asyncio.gather(*(world.take_in(file) for _ in range(3)))
    with pytest.raises(ImportQuestionError):
        await world.take_in("Qqq,Zzz\n2026-09-11 10:00,12.00\n", importer=CARDS)
    assert (sys.getswitchinterval(), gc.get_threshold()) == usual
