"""What was said about a file once holds for its like: importer, columns, dates."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests.database import Clone
from tests.evidence_world import World, make_world

from stallkeep.store import imports
from stallkeep.store.engine import scope
from stallkeep.work.import_errors import ImportQuestionError, ImportRefusedError, PlaceNeededError
from stallkeep.work.import_file import ImportOrder, Upload
from stallkeep.work.import_folder import FolderDone, Stage, import_folder
from stallkeep.work.import_path import Said, import_path
from stallkeep.work.import_report import import_report
from stallkeep.work.preview_import import preview_import
from stallkeep.work.retry_reject import retry_reject

CARDS, TALLY = "card-reader-payments", "cash-tally"
EITHER = "Date,Time,Amount,Currency\n{},10:12,24.00,EUR\n2026-09-11,10:13,2.00,EUR\n"
STRANGE = "Qqq,Www,Zzz\n2026-09-11 10:00,a,{}\n2026-09-13 10:00,b,13.00\n"
COLUMNS = {"columns": {"date": "Qqq", "amount": "Zzz"}}


def put(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def taken(done: FolderDone) -> list[tuple[str, int]]:
    return [(f.taken_in.importer, f.taken_in.taken) for f in done.files if f.taken_in]


async def night(world: World, folder: Path) -> FolderDone:
    return await import_folder(world.pool, world.shop, folder)


async def said(world: World, path: Path, **word: object) -> imports.Import:
    return await import_path(world.pool, world.shop, path, Said(**word))  # type: ignore[arg-type]


async def test_a_file_two_importers_claim_is_asked_about_once(
    database: Clone, tmp_path: Path
) -> None:
    world = await make_world(database.pool)
    put(tmp_path, "monday.csv", EITHER.format("2026-09-10"))
    assert taken(await night(world, tmp_path)) == []
    report = (tmp_path / "failed/monday.csv.report.txt").read_text()
    assert f"stallkeep import {tmp_path}/failed/monday.csv --importer NAME" in report
    assert f"  {TALLY}: " in report
    await said(world, tmp_path / "failed/monday.csv", importer=CARDS)
    put(tmp_path, "tuesday.csv", EITHER.format("2026-09-09"))
    assert taken(await night(world, tmp_path)) == [(CARDS, 1)]


async def test_an_importer_named_later_for_the_same_layout_counts_from_then(
    database: Clone, tmp_path: Path
) -> None:
    world = await make_world(database.pool)
    path = put(tmp_path, "a.csv", EITHER.format("2026-09-10"))
    for name in (CARDS, TALLY, CARDS):
        await said(world, path, importer=name, place="Stall")
        done = await said(world, path)
        assert done.importer == name


async def test_columns_said_once_are_known_the_next_night(database: Clone, tmp_path: Path) -> None:
    world = await make_world(database.pool)
    path = put(tmp_path, "a.csv", STRANGE.format("12.00"))
    with pytest.raises(ImportRefusedError, match="No importer knows"):
        await said(world, path)
    await said(world, path, importer=CARDS, answers=COLUMNS, place="Stall")
    path.unlink()
    put(tmp_path, "b.csv", STRANGE.format("14.00"))
    assert taken(await night(world, tmp_path)) == [(CARDS, 1)]


async def test_a_preview_names_the_importer_an_import_would_take(
    database: Clone, tmp_path: Path
) -> None:
    world = await make_world(database.pool)
    path = put(tmp_path, "a.csv", STRANGE.format("12.00"))
    await said(world, path, importer=CARDS, answers=COLUMNS, place="Stall")
    with path.open("rb") as file:
        shown = await preview_import(
            world.pool, world.shop, Upload(file, "a.csv", 60), ImportOrder()
        )
    assert (shown.importer, shown.counts["transaction"]) == (CARDS, 2)


async def test_a_second_answer_keeps_the_first(database: Clone, tmp_path: Path) -> None:
    world = await make_world(database.pool)
    text = "Date,Time,Amount,Currency\n04/05/2026,10:12,{},EUR\n05/05/2026,10:13,{},EUR\n"
    dates = put(tmp_path, "a.csv", text.format("24.00", "2.00"))
    await said(world, dates, importer=CARDS, answers={"date_order": "dmy"})
    marks = put(tmp_path, "b.csv", text.format("1.234", "2.345"))
    with pytest.raises(ImportQuestionError, match="“Amount”"):
        await said(world, marks)
    await said(world, marks, answers={"decimal_mark": ","})
    done = await said(world, put(tmp_path, "c.csv", text.format("3.456", "4.567")))
    assert (done.taken, done.rejected) == (2, 0)
    days = await world.rows("select distinct occurred_on from transaction where shop_id = $1")
    assert {row["occurred_on"].month for row in days} == {5}


async def test_a_corrected_row_teaches_nothing_about_the_layout(database: Clone) -> None:
    world = await make_world(database.pool)
    await world.take_in(EITHER.format("2026-09-10"), importer=CARDS)
    file = EITHER.format("2026-09-08") + "2026-09-11,10:15,many,EUR\n"
    done = await world.take_in(file)
    async with scope(world.pool, world.shop.shop_id) as con:
        (bad,) = await imports.list_rejects(con, world.shop.shop_id, done.id, 10, 0)
    cells = ["7.00" if cell == "many" else cell for cell in bad.cells]
    await retry_reject(world.pool, world.shop, done.id, bad.record, cells, "Ada")
    kept = await world.rows("select options from column_map where shop_id = $1")
    assert kept == [{"options": {}}]


async def test_a_place_nobody_knows_takes_nothing(database: Clone, tmp_path: Path) -> None:
    world = await make_world(database.pool)
    path = put(tmp_path, "a.csv", EITHER.format("2026-09-10"))
    there = "No channel or event is called 'Nowhere'. There are: Quay market, Stall, Tidelist."
    with pytest.raises(PlaceNeededError, match=re.escape(there)):
        await said(world, path, importer=CARDS, place="Nowhere")


async def test_personal_columns_and_rejects_stand_in_the_imports_own_report(
    database: Clone,
) -> None:
    world = await make_world(database.pool)
    file = (
        "Date,Time,Transaction ID,Amount,Currency,Customer email\n"
        "2026-09-11,10:12:00,p-1,24.00,EUR,ada@mail.example\n"
        "2026-09-11,11:00:00,p-2,many,EUR,bo@mail.example\n"
    )
    done = await world.take_in(file)
    (notice,) = [one for one in done.notices if one["code"] == "personal-left-out"]
    assert "Customer email" in notice["text"]
    async with scope(world.pool, world.shop.shop_id) as con:
        rejects = await imports.list_rejects(con, world.shop.shop_id, done.id, 10, 0)
    report = import_report(done, rejects)
    assert "Line 3, column Amount, 'many'" in report
    assert "The row: Date: 2026-09-11 | Time: 11:00:00 | Transaction ID: p-2" in report
    assert "mail.example" not in report
    assert "put it into the folder again" in report


async def test_the_nightly_job_tells_how_far_each_file_has_come(
    database: Clone, tmp_path: Path
) -> None:
    world = await make_world(database.pool)
    path = put(tmp_path, "a.csv", STRANGE.format("12.00"))
    size = path.stat().st_size
    await said(world, path, importer=CARDS, answers=COLUMNS, place="Stall")
    seen: list[Stage] = []
    await import_folder(world.pool, world.shop, tmp_path, progress=seen.append)
    assert [stage.name for stage in (seen[0], seen[-1])] == ["a.csv", None]
    come = [stage.how_far for stage in seen if stage.how_far is not None]
    assert come
    assert (come[-1].rows_read, come[-1].bytes_read, come[-1].file_bytes) == (3, size, size)
