"""Know a file that was cut short by its last record."""

from __future__ import annotations

import re
from collections.abc import Sequence

from stallkeep_importers.contract import RefusalError
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.strange_rows import is_remark
from stallkeep_importers.tables.dialects import looks_typed
from stallkeep_importers.tables.records import RecordBatch
from stallkeep_importers.words import cell_words, plain

_FEWEST = 2
_SHORTEST_WORD = 4
_DECIMALS = re.compile(r"[.,]([0-9]+)\D*$")


def refuse_cut_short(
    sheet: Sheet, last: RecordBatch, last_taken_line: int, *, is_data: bool
) -> None:
    """Raise RefusalError when the last record shows that the rest of the file is missing.

    Args:
        sheet: The table.
        last: Its last batch of records.
        last_taken_line: Line of the last row that was as wide as the table.
        is_data: Whether the last record is a row, not a remark or a totals line.
    """
    facts, width = sheet.table.survey, sheet.table.width
    row, line = last.rows[-1], last.lines[-1]
    if facts is None or last.first_record + len(last.rows) - 1 <= sheet.table.header_record:
        return
    if facts.ends_in_nuls:
        raise _cut(line, "the file is filled up with nothing after it")
    if facts.ends_in_newline or not any(row):
        return
    if any(last.lines[place] > last_taken_line for place in last.odd):
        raise _cut(line, "a quotation mark is never closed")
    if len(row) < width and (not is_remark(row, width) or _may_begin_a_row(row, sheet)):
        raise _cut(line, f"it has {len(row)} of {width} cells and no line end")
    if is_data and len(row) == width and _is_shorter(row[-1], _last_cells(sheet)):
        raise _cut(line, "its last cell is shorter than all others, and has no line end")


def _may_begin_a_row(row: Sequence[str], sheet: Sheet) -> bool:
    """Say whether a single cell may be the beginning of a row: where rows begin with any text."""
    first = [cells[0] for cells in sheet.table.sample if cells[0].strip()]
    if sum(map(looks_typed, first)) * 2 <= len(first):
        return True
    return any(cell.startswith(row[0]) for cell in first)


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
    if _is_word(cell):
        return False
    lengths = {len(other) for other in filled}
    return len(lengths) == 1 and len(cell) < lengths.pop()


def _is_word(cell: str) -> bool:
    """Say whether a cell is a whole word that rows say, such as "refund"."""
    text = plain(cell)
    return len(text) >= _SHORTEST_WORD and any(
        text in cell_words(table) for table in ("kinds", "states", "methods")
    )


def _cut(line: int, why: str) -> RefusalError:
    return RefusalError(
        "cut-short",
        f"The file ends in the middle of line {line}: {why}.",
        "Fetch the file again, whole.",
        {"line": line},
    )
