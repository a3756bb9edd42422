"""The nightly job: take every file of a folder in, reconcile what they touched, leave reports.

Each file ends in ``done/`` or ``failed/`` with a report beside it; nothing is deleted. A file in a
sub-folder named like a channel or an event belongs to it. Killed half-way, the next run goes on:
a file still in its place is taken in again, and what was taken already is known.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Final
from uuid import UUID

import msgspec

from stallkeep.domain.errors import StallkeepError, UnavailableError
from stallkeep.store import imports
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import read_scope
from stallkeep.store.shops import Shop
from stallkeep.work.import_order import HowFar, readable
from stallkeep.work.import_path import Said, import_path
from stallkeep.work.import_report import SHOWN_REJECTS, failure_report, import_report
from stallkeep.work.read_import import settle_dead_imports
from stallkeep.work.reconcile import reconcile_event
from stallkeep.work.reconcile_channel import reconcile_news
from stallkeep.work.store_answer import Reconciled

DONE: Final = "done"
FAILED: Final = "failed"
REPORT: Final = ".report.txt"
DOUBTS: Final = frozenset({"perhaps-in-stock"})
"""Notices that say what may be wrong though every row was taken."""
LONGEST_NAME_BYTES: Final = 255  # on nearly every file system

_TOUCHED: Final = """
select distinct t.channel_id, t.event_id from transaction t
 where t.shop_id = $1 and t.import_id = any($2) and t.kind in ('payment', 'refund', 'sale')
 order by t.event_id nulls first, t.channel_id
"""
# Earlier events first: what they settle is evidence for the later ones.
_IN_TURN: Final = """
select id from event where shop_id = $1 and id = any($2) order by starts_on, id
"""
_NAMES: Final = """
select id, name from event where shop_id = $1
union all select id, name from channel where shop_id = $1
"""


def leaves_questions(record: imports.Import) -> bool:
    """Tell whether an import that was taken has something that a person must look at."""
    return record.rejected > 0 or any(notice["code"] in DOUBTS for notice in record.notices)


class FileDone(msgspec.Struct, frozen=True, kw_only=True):
    """What became of one file.

    Attributes:
        path: Where it lay.
        moved_to: Where it lies now.
        taken_in: The import; None when it failed.
        problem: Why it failed.
    """

    path: Path
    moved_to: Path
    taken_in: imports.Import | None = None
    problem: StallkeepError | None = None

    @property
    def needs_a_person(self) -> bool:
        """True when something must be looked at."""
        return self.taken_in is None or leaves_questions(self.taken_in)


class FolderDone(msgspec.Struct, frozen=True, kw_only=True):
    """What became of a folder: its files, runs and imports found dead from before.

    `names` gives the name of each event and channel that was reconciled, by id.
    """

    files: tuple[FileDone, ...]
    runs: tuple[Reconciled, ...]
    names: dict[UUID, str] = {}
    interrupted: tuple[imports.Import, ...] = ()

    @property
    def needs_a_person(self) -> bool:
        """True when something must be looked at."""
        return any(file.needs_a_person for file in self.files)


class Stage(msgspec.Struct, frozen=True):
    """Progress: file number of files, its name and how far it has come; no name: reconciling."""

    number: int
    files: int
    name: str | None
    how_far: HowFar | None = None


async def import_folder(
    pool: Pool,
    shop: Shop,
    folder: Path,
    *,
    by: str = "nightly import",
    progress: Callable[[Stage], None] = lambda _: None,
) -> FolderDone:
    """Take every new file of *folder* in and reconcile what was touched.

    Raises:
        NotADirectoryError: There is no such folder.
        UnavailableError: The database went away; files not yet taken lie where they were.
    """
    if not folder.is_dir():  # noqa: ASYNC240 - one job, one process: nobody waits behind it
        raise NotADirectoryError(f"{folder} is no folder")
    interrupted = await settle_dead_imports(pool, shop.shop_id)
    paths = list(new_files(folder))
    files = []
    for number, path in enumerate(paths, 1):
        progress(Stage(number, len(paths), path.name))
        show = partial(_show, progress, number, len(paths), path.name)
        with suppress(FileNotFoundError):  # somebody has taken it away meanwhile
            files.append(await _take(pool, shop, folder, path, by, show))
    progress(Stage(len(paths), len(paths), None))
    done = [file.taken_in.id for file in files if file.taken_in is not None]
    runs = await reconcile_touched(pool, shop, done)
    async with read_scope(pool, shop.shop_id) as con:
        names = await names_of(con, shop)
    return FolderDone(
        files=tuple(files),
        runs=tuple(runs),
        names=names,
        interrupted=tuple(interrupted),
    )


async def names_of(con: Connection, shop: Shop) -> dict[UUID, str]:
    """Give the name of each event and channel by its id."""
    return {row["id"]: row["name"] for row in await con.fetch(_NAMES, shop.shop_id)}


def _show(
    progress: Callable[[Stage], None], number: int, files: int, name: str, how_far: HowFar
) -> None:
    progress(Stage(number, files, name, how_far))


def new_files(folder: Path) -> Iterator[Path]:
    """List the files to take in: those of the folder, then of its sub-folders, by name."""
    yield from _files(folder)
    for inner in sorted(folder.iterdir()):
        if inner.is_dir() and inner.name not in (DONE, FAILED) and not inner.name.startswith("."):
            yield from _files(inner)


def _files(folder: Path) -> Iterator[Path]:
    for path in sorted(folder.iterdir()):
        hidden = path.name.startswith(".") or path.name.endswith(REPORT)
        if path.is_file() and not hidden:
            yield path


async def reconcile_touched(pool: Pool, shop: Shop, import_ids: list[UUID]) -> list[Reconciled]:
    """Reconcile the channels and events that imports brought rows of; online sales first."""
    async with read_scope(pool, shop.shop_id) as con:
        rows = await con.fetch(_TOUCHED, shop.shop_id, import_ids)
        told = await con.fetch(
            "select distinct event_id from import where shop_id = $1 and id = any($2) "
            "and event_id is not null",
            shop.shop_id,
            import_ids,
        )
    channels = [row["channel_id"] for row in rows if row["event_id"] is None]
    found = [await reconcile_news(pool, shop, channel_id) for channel_id in channels]
    runs = [run for run in found if run is not None]
    events = {row["event_id"] for row in [*rows, *told]} - {None}
    async with read_scope(pool, shop.shop_id) as con:
        in_turn = await con.fetch(_IN_TURN, shop.shop_id, list(events))
    runs += [await reconcile_event(pool, shop, row["id"]) for row in in_turn]
    return runs


async def _take(  # noqa: PLR0917 - one file of one folder
    pool: Pool,
    shop: Shop,
    folder: Path,
    path: Path,
    by: str,
    show: Callable[[HowFar], None],
) -> FileDone:
    inside = None if path.parent == folder else readable(path.parent.name)
    try:
        taken_in = await import_path(pool, shop, path, Said(by=by), inside, show)
    except UnavailableError:
        raise  # no fault of the file: it stays for the next run
    except StallkeepError as problem:
        moved = _move(folder, path, FAILED)
        _write(moved, failure_report(moved, problem))
        return FileDone(path=path, moved_to=moved, problem=problem)
    async with read_scope(pool, shop.shop_id) as con:
        rejects = await imports.list_rejects(con, shop.shop_id, taken_in.id, SHOWN_REJECTS, 0)
    moved = _move(folder, path, DONE)
    _write(moved, import_report(taken_in, rejects))
    return FileDone(path=path, moved_to=moved, taken_in=taken_in)


def leave_failed(path: Path, report: str) -> Path | None:
    """Move a file that was taken in after all from failed/ to done/, with its new report.

    Returns:
        Where it lies now; None where it did not lie in failed/ with the report of a failure.
    """
    old_report = path.with_name(_fitting(path.name) + REPORT)
    within = path.absolute()
    failed = next((folder for folder in within.parents if folder.name == FAILED), None)
    if failed is None or not old_report.is_file():
        return None
    moved = _move_to(failed.parent / DONE / within.parent.relative_to(failed), path)
    old_report.unlink()
    _write(moved, report)
    return moved


def _move(folder: Path, path: Path, where: str) -> Path:
    """Move a file to done/ or failed/ under a name that is free there."""
    return _move_to(folder / where / path.parent.relative_to(folder), path)


def _move_to(target: Path, path: Path) -> Path:
    target.mkdir(parents=True, exist_ok=True)
    free = target / path.name
    number = 2
    while free.exists():
        free = target / f"{path.stem}-{number}{path.suffix}"
        number += 1
    return path.rename(free)


def _fitting(name: str) -> str:
    """Cut a name so that the report's fits into a folder."""
    return os.fsdecode(os.fsencode(name)[: LONGEST_NAME_BYTES - len(REPORT)])


def _write(moved: Path, text: str) -> None:
    stamp = dt.datetime.now().astimezone().isoformat(timespec="seconds")
    moved.with_name(_fitting(moved.name) + REPORT).write_text(
        f"{stamp}\n\n{text}", encoding="utf-8", errors="surrogateescape"
    )
