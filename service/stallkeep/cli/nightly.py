"""The nightly job in the terminal: progress while it runs, a summary at the end."""

from __future__ import annotations

import fcntl
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final
from uuid import UUID

from rich.console import Console
from rich.table import Table
from rich.text import Text

from stallkeep.cli.import_bar import import_bar
from stallkeep.cli.running import run
from stallkeep.cli.shops import chosen_shop
from stallkeep.config import Settings
from stallkeep.domain.errors import ConflictError
from stallkeep.store.connection import Pool
from stallkeep.store.database import Database
from stallkeep.work.import_folder import FileDone, FolderDone, import_folder
from stallkeep.work.store_answer import Reconciled

MOST_FINDINGS: Final = 10
"""Sentences printed below an event or channel; all are kept with its run."""


def nightly(settings: Settings, folder: Path, wanted_shop: str | None) -> int:
    """Take a folder in.

    Returns:
        0 when everything was taken, 1 when something needs a person.
    """
    console = Console()
    if not folder.is_dir():
        raise NotADirectoryError(f"{folder} is no folder")

    async def work(pool: Pool, found: Database) -> FolderDone:
        shop = await chosen_shop(pool, found, wanted_shop)
        with import_bar(console) as bar:
            return await import_folder(pool, shop, folder, progress=bar.show)

    with _alone(folder):
        done = run(settings, work)
    _print(console, done)
    return int(done.needs_a_person)


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Let one run at a time work in a folder.

    Raises:
        ConflictError: Another run is at it.
    """
    with (folder / ".stallkeep.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            raise ConflictError(f"Another import is working in {folder}") from error
        yield


def _print(console: Console, done: FolderDone) -> None:
    for record in done.interrupted:
        console.print(
            f"An earlier import of {record.file_name} was interrupted; nothing of it was "
            "taken then.",
            markup=False,
        )
    if not done.files:
        console.print("Nothing new.")
        return
    console.print(files_table(done.files))
    for line in runs_lines(done.runs, done.names):
        console.print(line, markup=False)
    for file in done.files:
        if file.problem is not None:
            told = f"{file.path.name}: {file.problem.detail}"
            console.print(told, style="bold", markup=False)
    needs = [file for file in done.files if file.needs_a_person]
    if needs:
        console.print("\nPlease look at:")
        for file in needs:
            console.print(f"  {file.moved_to}.report.txt", soft_wrap=True, markup=False)


def runs_lines(runs: Sequence[Reconciled], names: Mapping[UUID, str]) -> Iterator[str]:
    """Say of each event and channel what its payments came to, and what to look at."""
    for done in runs:
        counts = ", ".join(f"{count} {state}" for state, count in sorted(done.counts.items()))
        place = done.event_id or done.channel_id
        name = names.get(place, "") if place else ""
        yield f"{name}: {counts.replace('_', ' ') or 'nothing to match'}"
        found = [finding["sentence"] for finding in done.report.get("findings", ())]
        yield from (f"  {sentence}" for sentence in found[:MOST_FINDINGS])
        if len(found) > MOST_FINDINGS:
            yield f"  and {len(found) - MOST_FINDINGS} more to look at"


def files_table(files: tuple[FileDone, ...]) -> Table:
    """Lay out what became of each file, readable at 80 columns."""
    table = Table(box=None, pad_edge=False)
    table.add_column("File", overflow="fold", max_width=34)
    for name in ("Read", "Taken", "Known", "Rejected", "Skipped"):
        table.add_column(name, justify="right")
    for file in files:
        record = file.taken_in
        if record is None:
            table.add_row(Text(file.path.name), "not taken", style="bold")
            continue
        counts = (record.rows_read, record.taken, record.known, record.rejected, record.skipped)
        table.add_row(Text(file.path.name), *(str(count) for count in counts))
    return table
