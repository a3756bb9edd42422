"""Know a file that was cut short by its last record."""

from __future__ import annotations

import re
from collections.abc import Sequence

from stallkeep_importers.contract import RefusalError
from stallkeep_importers.dialects import looks_typed
from stallkeep_importers.sheets import Sheet
from stallkeep_importers.strange_rows import is_remark

_FEWEST = 3
_DECIMALS = re.compile(r"[.,]([0-9]+)\D*$")


def refuse_cut_short(
    sheet: Sheet, line: int, row: list[str], is_last: bool, *, open_quotes: Sequence[int]
) -> None:
    """Raise RefusalError when the last record shows that the rest of the file is missing.

    Args:
        sheet: The table.
        line: Where its last filled record starts.
        row: That record.
        is_last: Whether no blank line follows it.
        open_quotes: Lines with a quotation mark that is never closed.
    """
    facts = sheet.table.survey
    if facts is None:
        return
    if facts.ends_in_nuls:
        raise _cut(line, "the file is filled up with nothing after it")
    if facts.ends_in_newline or not is_last:
        return
    if open_quotes and open_quotes[-1] >= line:
        raise _cut(line, "its quotation mark is never closed")
    if len(row) < sheet.table.width and not is_remark(row, sheet.table.width):
        raise _cut(line, f"it has {len(row)} of {sheet.table.width} cells and no line end")
    if len(row) == sheet.table.width and _is_shorter(row[-1], _last_cells(sheet)):
        raise _cut(line, "its last cell is shorter than all others, and has no line end")


def _last_cells(sheet: Sheet) -> list[str]:
    place = sheet.table.width - 1
    cells = [row[place] for row in sheet.table.sample]
    return cells[:-1] if sheet.table.is_whole else cells


def _is_shorter(cell: str, others: Sequence[str]) -> bool:
    """Say whether a cell lacks what all others have: their decimals, or their length."""
    filled = [other for other in others if other.strip()]
    if len(filled) < _FEWEST or len(filled) < len(others):
        return False
    decimals = {len(match[1]) if (match := _DECIMALS.search(other)) else 0 for other in filled}
    if all(map(looks_typed, filled)) and len(decimals) == 1 and decimals != {0}:
        match = _DECIMALS.search(cell)
        return (len(match[1]) if match else 0) < decimals.pop()
    lengths = {len(other) for other in filled}
    return len(lengths) == 1 and len(cell) < lengths.pop()


def _cut(line: int, why: str) -> RefusalError:
    return RefusalError(
        "cut-short",
        f"The file ends in the middle of line {line}: {why}.",
        "Fetch the file again, whole.",
        {"line": line},
    )
