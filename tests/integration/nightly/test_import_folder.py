"""The nightly job: every file ends in done/ or failed/ with a report, and nothing is doubled."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.database import Clone
from tests.evidence_world import World, make_world

from stallkeep.store.engine import DatabaseUnavailableError
from stallkeep.work import import_folder as import_folder_module
from stallkeep.work.import_folder import Stage, import_folder

PAYMENTS = (
    "Date,Time,Transaction ID,Amount,Currency,Fee,Note\n"
    "2026-09-11,10:12:00,p-1,24.00,EUR,0.65,A17-AH1\n"
    "2026-09-11,11:40:00,p-2,68.00,EUR,1.70,\n"
)
BAD_ROW = "2026-09-11,12:00:00,p-3,many,EUR,0.65,\n"
COUNT = "select count(*)::int as n from transaction where shop_id = $1"


def put(folder: Path, name: str, text: str | bytes) -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def names(folder: Path) -> set[str]:
    return {str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file()}


async def transactions(world: World) -> int:
    count: int = (await world.rows(COUNT))[0]["n"]
    return count


async def test_a_good_file_goes_to_done_and_its_event_is_reconciled(
    database: Clone, tmp_path: Path
) -> None:
    world = await make_world(database.pool)
    put(tmp_path, "friday.csv", PAYMENTS)
    done = await import_folder(world.pool, world.shop, tmp_path)
    assert not done.needs_a_person
    assert names(tmp_path) == {"done/friday.csv", "done/friday.csv.report.txt"}
    report = (tmp_path / "done/friday.csv.report.txt").read_text()
    assert "3 rows read = 2 taken + 0 known + 0 rejected + 1 skipped" in report
    (run,) = done.runs
    assert run.event_id == world.event
    assert run.counts["matched"] >= 1


async def test_a_file_with_a_bad_row_is_taken_and_needs_a_person(
    database: Clone, tmp_path: Path
) -> None:
    world = await make_world(database.pool)
    put(tmp_path, "friday.csv", PAYMENTS + BAD_ROW)
    done = await import_folder(world.pool, world.shop, tmp_path)
    assert done.needs_a_person
    report = (tmp_path / "done/friday.csv.report.txt").read_text()
    assert "Line 4, column Amount, 'many'" in report
    assert "What to do" in report
    assert await transactions(world) == 2


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("picture.csv", b"\x89PNG\r\n\x1a\n" + bytes(60)),
        ("empty.csv", b""),
        ("letter.txt", "Dear Sir,\nthe rain was awful.\n"),
    ],
)
async def test_a_file_nobody_can_read_goes_to_failed_with_the_reason(
    database: Clone, tmp_path: Path, name: str, content: str | bytes
) -> None:
    world = await make_world(database.pool)
    put(tmp_path, name, content)
    put(tmp_path, "good.csv", PAYMENTS)
    done = await import_folder(world.pool, world.shop, tmp_path)
    assert done.needs_a_person
    assert f"failed/{name}" in names(tmp_path)
    assert "nothing was taken" in (tmp_path / f"failed/{name}.report.txt").read_text()
    assert "done/good.csv" in names(tmp_path)
    assert await transactions(world) == 2


async def test_the_same_export_another_night_is_all_known(database: Clone, tmp_path: Path) -> None:
    world = await make_world(database.pool)
    put(tmp_path, "friday.csv", PAYMENTS)
    await import_folder(world.pool, world.shop, tmp_path)
    put(tmp_path, "friday.csv", PAYMENTS)
    done = await import_folder(world.pool, world.shop, tmp_path)
    assert [file.taken_in.known for file in done.files if file.taken_in] == [2]
    assert {"done/friday.csv", "done/friday-2.csv"} <= names(tmp_path)
    assert await transactions(world) == 2


async def test_a_folder_named_like_a_channel_says_where_rows_belong(
    database: Clone, tmp_path: Path
) -> None:
    world = await make_world(database.pool)
    await world.rows(
        "insert into channel (shop_id, id, name, kind) "
        "values ($1, gen_random_uuid(), 'Second list', 'online')"
    )
    sales = (
        "Order ID,Date,Item,Listing ID,Price,Fee\nO-1,2026-09-10,Waxed work jacket,L-9,35.00,3.00\n"
    )
    put(tmp_path, "orders.csv", sales)
    undecided = await import_folder(world.pool, world.shop, tmp_path)
    assert undecided.needs_a_person
    assert "which channel" in (tmp_path / "failed/orders.csv.report.txt").read_text()
    put(tmp_path, "Tidelist/orders.csv", sales)
    decided = await import_folder(world.pool, world.shop, tmp_path)
    assert [f.taken_in.channel_id for f in decided.files if f.taken_in] == [world.online]
    later = sales.replace("O-1", "O-2").replace("2026-09-10", "2026-09-12")
    put(tmp_path, "orders-later.csv", later)
    remembered = await import_folder(world.pool, world.shop, tmp_path)
    assert [f.taken_in.channel_id for f in remembered.files if f.taken_in] == [world.online]


async def test_an_empty_folder_is_nothing_new(database: Clone, tmp_path: Path) -> None:
    world = await make_world(database.pool)
    done = await import_folder(world.pool, world.shop, tmp_path)
    assert (done.files, done.runs, done.needs_a_person) == ((), (), False)


async def test_a_folder_that_is_not_there_cannot_be_taken_in(
    database: Clone, tmp_path: Path
) -> None:
    world = await make_world(database.pool)
    with pytest.raises(NotADirectoryError):
        await import_folder(world.pool, world.shop, tmp_path / "nowhere")


async def test_files_stay_where_they_are_when_the_database_goes_away(
    database: Clone, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    world = await make_world(database.pool)
    put(tmp_path, "friday.csv", PAYMENTS)

    async def gone(*_: object) -> None:
        raise DatabaseUnavailableError("it went away")

    monkeypatch.setattr(import_folder_module, "import_path", gone)
    with pytest.raises(DatabaseUnavailableError):
        await import_folder(world.pool, world.shop, tmp_path)
    assert names(tmp_path) == {"friday.csv"}
    monkeypatch.undo()
    done = await import_folder(world.pool, world.shop, tmp_path)
    assert not done.needs_a_person
    assert await transactions(world) == 2


async def test_a_file_that_cannot_be_read_or_vanishes_does_not_keep_the_others_waiting(
    database: Clone, tmp_path: Path
) -> None:
    world = await make_world(database.pool)
    # A file whose beginning nobody may read, even root: the first page of a process is not there.
    (tmp_path / "a-broken.csv").symlink_to("/proc/self/mem")
    gone = put(tmp_path, "b-gone.csv", PAYMENTS)
    put(tmp_path, "c-good.csv", PAYMENTS)

    def take_away(_: Stage) -> None:
        gone.unlink(missing_ok=True)

    done = await import_folder(world.pool, world.shop, tmp_path, progress=take_away)
    assert [(file.path.name, file.taken_in is None) for file in done.files] == [
        ("a-broken.csv", True),
        ("c-good.csv", False),
    ]
    report = (tmp_path / "failed/a-broken.csv.report.txt").read_text()
    assert "It cannot be read: Input/output error" in report
    assert await transactions(world) == 2
