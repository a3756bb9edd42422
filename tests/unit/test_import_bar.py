"""The bar of an import: within 80 columns in a terminal, nothing anywhere else."""

from __future__ import annotations

import io
import re

import pytest
from rich.console import Console

from stallkeep.cli.import_bar import import_bar
from stallkeep.store.ids import new_id
from stallkeep.work.import_folder import Stage
from stallkeep.work.import_order import HowFar

LONG = "[2026] every payment of the whole year, with fees.csv"
CONTROL = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


def shown(*stages: Stage, terminal: bool = True, term: str = "xterm") -> list[str]:
    out = io.StringIO()
    console = Console(
        file=out, force_terminal=terminal, width=80, color_system=None, _environ={"TERM": term}
    )
    with import_bar(console) as bar:
        for stage in stages:
            bar.show(stage)
            bar._progress.refresh()
    lines = re.split(r"[\r\n]+", CONTROL.sub("", out.getvalue()))
    return [line for line in lines if line.strip()]


def far(rows: int, share: float) -> HowFar:
    return HowFar(new_id(), rows, int(share * 300_000_000), 300_000_000)


def test_a_bar_of_millions_of_rows_fits_into_80_columns() -> None:
    lines = shown(Stage(12, 34, LONG), Stage(12, 34, LONG, far(4_987_654, 0.97)))
    assert any("97%" in line and "4,987,654 rows" in line and "/s" in line for line in lines)
    assert lines[-1].startswith("12/34 [2026] every pa")
    assert max(map(len, lines)) <= 80


def test_one_file_needs_no_number_and_the_last_stage_says_what_it_does() -> None:
    lines = shown(Stage(1, 1, "a.csv", far(10, 0.5)), Stage(1, 1, None))
    assert lines[0].startswith("a.csv")
    assert lines[-1].startswith("Reconciling")


@pytest.mark.parametrize(("terminal", "term"), [(False, "xterm"), (True, "dumb")])
def test_nothing_is_shown_where_nobody_looks(terminal: bool, term: str) -> None:
    assert shown(Stage(1, 1, "a.csv", far(10, 0.5)), terminal=terminal, term=term) == []
