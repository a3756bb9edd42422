"""Take one file in from the terminal, with what a person says about it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from rich.console import Console

from stallkeep.cli.import_bar import import_bar
from stallkeep.cli.nightly import runs_lines
from stallkeep.cli.running import run
from stallkeep.cli.shops import chosen_shop
from stallkeep.config import Settings
from stallkeep.domain.errors import RejectedInputError, StallkeepError, UnavailableError
from stallkeep.store import imports
from stallkeep.store.connection import Pool
from stallkeep.store.database import Database
from stallkeep.store.engine import read_scope
from stallkeep.work.import_folder import (
    Stage,
    leave_failed,
    leaves_questions,
    names_of,
    reconcile_touched,
)
from stallkeep.work.import_order import HowFar, readable
from stallkeep.work.import_path import Said, import_path
from stallkeep.work.import_report import SHOWN_REJECTS, failure_report, import_report
from stallkeep.work.read_import import settle_dead_imports


def one_file(settings: Settings, path: Path, wanted_shop: str | None, said: Said) -> int:
    """Take a file in where it lies, reconcile what it touches, and print the report.

    A file that lies in failed/ since the nightly job goes to done/ when it was taken.

    Returns:
        0 when everything was taken, 1 when something needs a person.

    Raises:
        UnavailableError: The database went away; nothing was taken.
    """
    console = Console()
    folder = readable(path.resolve().parent.name)

    async def work(pool: Pool, found: Database) -> int:
        shop = await chosen_shop(pool, found, wanted_shop)
        await settle_dead_imports(pool, shop.shop_id)
        with import_bar(console) as bar:

            def show(come: HowFar) -> None:
                bar.show(Stage(1, 1, path.name, come))

            bar.show(Stage(1, 1, path.name))
            done = await import_path(pool, shop, path, said, folder, show)
            bar.show(Stage(1, 1, None))
            runs = await reconcile_touched(pool, shop, [done.id])
        async with read_scope(pool, shop.shop_id) as con:
            rejects = await imports.list_rejects(con, shop.shop_id, done.id, SHOWN_REJECTS, 0)
            names = await names_of(con, shop)
        report = import_report(done, rejects)
        _say(console, report + "\n".join(runs_lines(runs, names)))
        if (moved := leave_failed(path, report)) is not None:
            _say(console, f"Moved to {moved}")
        return int(leaves_questions(done))

    try:
        return run(settings, work)
    except UnavailableError:
        raise
    except StallkeepError as problem:
        _say(console, failure_report(path, problem, said))
        return 1


def _say(console: Console, text: str) -> None:
    console.print(text.rstrip("\n"), markup=False, highlight=False, soft_wrap=True)


def read_said(
    importer: str | None, place: str | None, answers: list[str], columns: list[str]
) -> Said:
    """Join what the options of the command say.

    Raises:
        RejectedInputError: An answer is not NAME=VALUE.
    """
    given: dict[str, Any] = dict(map(_pair, answers))
    if "header_record" in given and given["header_record"].isdigit():
        given["header_record"] = int(given["header_record"])
    if columns:
        given["columns"] = dict(map(_pair, columns))
    return Said(importer=importer, place=place, answers=given, by="command line")


def refuse_said(*said: object) -> None:
    """Refuse what can be said of one file only.

    Raises:
        RejectedInputError: Something was said.
    """
    if any(said):
        raise RejectedInputError("Such answers are for one file: name the file, not its folder")


def _pair(text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not equals or not name:
        raise RejectedInputError(f"{text!r} says nothing: write NAME=VALUE")
    return name, value
