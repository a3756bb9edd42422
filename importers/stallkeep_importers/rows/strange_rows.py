"""Rows that are no data: headings again, units, totals, remarks, another table."""

from __future__ import annotations

import re
from collections.abc import Sequence

import msgspec

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.cells.latin import bare
from stallkeep_importers.cells.personal import blanked
from stallkeep_importers.contract import RefusalError, Reject, Skip
from stallkeep_importers.currencies import currencies_of
from stallkeep_importers.rows.fields import SIDED
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.tables.dialects import known_headings, looks_typed
from stallkeep_importers.words import cell_words, plain

MAX_CELL_CHARS = 1 << 16
_SHOWN_CHARS = 200
_UNIT = re.compile(
    r"[dmyhs./:\- ]{2,20}|text|number|date|amount|currency|datum|betrag|%", re.IGNORECASE
)
_REMARK_CELLS = 2
_OTHER_KINDS = frozenset({"refund", "partial", "fee", "payout", "dispute"})
_STEM, _ENDING = 4, 3
_FEWEST_HEADINGS = 2
_UNREADABLE_SIGN = re.compile("[\x00\udc80-\udcff]")


def is_heading_again(row: Sequence[str], sheet: Sheet) -> bool:
    """Say whether a row repeats the header."""
    if not sheet.table.header_record:
        return False
    cells = list(map(bare, row))
    while cells and not cells[-1]:
        cells.pop()
    return cells == [found.text for found in sheet.table.headings]


def is_units(row: Sequence[str]) -> bool:
    """Say whether every filled cell of the row below the header names a unit or a format."""
    filled = [cell.strip() for cell in row if cell.strip()]
    return bool(filled) and all(
        bool(currencies_of(cell.strip("()[]"))) or bool(_UNIT.fullmatch(cell.strip("()[]")))
        for cell in filled
    )


def refuse_second_table(row: Sequence[str], line: int) -> None:
    """Raise RefusalError when a row is the header of another table."""
    if is_heading(row):
        filled = [cell for cell in row if cell.strip()]
        raise RefusalError(
            "two-tables",
            f"A second table begins in line {line}: {', '.join(filled[:6])}.",
            "Put each table in a file of its own.",
            {"line": line, "headings": filled},
        )


def refuse_part(row: Sequence[str], line: int) -> None:
    """Raise RefusalError when a row is the title of a part of its own: refunds, cash, fees.

    Its rows would be taken for what the rows above it are.
    """
    filled = [cell for cell in row if cell.strip()]
    if len(filled) == 1 and _names_a_part(filled[0]):
        raise RefusalError(
            "two-tables",
            f"Another part of the file begins in line {line}: “{filled[0].strip()[:40]}”.",
            "Put each part in a file of its own.",
            {"line": line, "headings": filled},
        )


def refuse_strange_heading(row: Sequence[str], sheet: Sheet, line: int) -> None:
    """Raise RefusalError when words stand below an empty line where day and amount should."""
    fields = {sheet.day_field, *SIDED} & sheet.places.keys()
    cells = [row[sheet.places[field]] for field in fields if field]
    words = [cell for cell in cells if any(map(str.isalpha, cell)) and not looks_typed(cell)]
    if len(words) == len(cells) > 1:
        raise RefusalError(
            "two-tables",
            f"Another table seems to begin in line {line}: {', '.join(filter(None, row[:6]))}.",
            "Put each table in a file of its own.",
            {"line": line, "headings": list(row)},
        )


def _names_a_part(cell: str) -> bool:
    """Say whether a cell names another kind of row or of paying, in the plural perhaps."""
    text = plain(cell)
    kinds = {word for word, kind in cell_words("kinds").items() if kind in _OTHER_KINDS}
    ways = {word for word, way in cell_words("methods").items() if way != "card"}
    return any(
        text == word
        or (len(word) > _STEM and text.startswith(word[:-1]) and _is_plural(text, word))
        for word in kinds | ways
    )


def _is_plural(text: str, word: str) -> bool:
    return " " not in text[len(word) - 1 :] and len(text) - len(word) <= _ENDING


def is_heading(row: Sequence[str]) -> bool:
    """Say whether at least two cells and half of a row are headings we know, and none is typed."""
    filled = [cell for cell in row if cell.strip()]
    known = known_headings(filled)
    return (
        known >= _FEWEST_HEADINGS and known * 2 >= len(filled) and not any(map(looks_typed, filled))
    )


def is_remark(row: Sequence[str], width: int) -> bool:
    """Say whether a row has too little in it to be data: a remark, a page number, a signature."""
    filled = [cell for cell in row if cell.strip()]
    if not filled:
        return width > _REMARK_CELLS
    if width <= _REMARK_CELLS:
        return len(row) == 1 and width > 1 and not looks_typed(filled[0])
    if filled[0].lstrip().startswith("#"):
        return True
    return len(filled) <= _REMARK_CELLS and not any(looks_typed(cell) for cell in filled[:1])


def skip(record: int, line: int, code: str, row: Sequence[str], sheet: Sheet) -> Skip:
    """Give the counted skip of a row."""
    in_place = len(row) == sheet.table.width
    personal = frozenset[int]() if code in _NO_DATA else sheet.personal
    return Skip(
        record=record,
        line=line,
        code=code,
        reason=_REASONS[code],
        cells=blanked(safe(row), personal, in_place=in_place),
    )


def reject(record: int, line: int, fault: Fault, row: Sequence[str], sheet: Sheet) -> Reject:
    """Give the reject of a row that is not in its columns."""
    in_place = len(row) == sheet.table.width
    return Reject(
        record=record,
        line=line,
        code=fault.code,
        reason=fault.reason,
        advice=fault.advice,
        cells=blanked(safe(row), sheet.personal, in_place=in_place),
    )


def between_pages(found: Skip) -> Skip:
    """Say of a remark that the header is repeated below it."""
    if found.code == "blank":
        return found
    code = "between-pages"
    return msgspec.structs.replace(found, code=code, reason=_REASONS[code])


def whole_row_fault(row: Sequence[str], width: int, odd: str | None) -> Fault | None:
    """Say what is wrong with a row as a whole, or None."""
    if odd == "cell-too-large" or any(len(cell) > MAX_CELL_CHARS for cell in row):
        return _TOO_LARGE
    if odd in _BROKEN_QUOTES or (odd and len(row) != width):
        return _QUOTES
    if any(map(_UNREADABLE_SIGN.search, row)):
        return _BAD_BYTES
    if len(row) != width:
        return Fault(
            "ragged-record",
            f"The row has {len(row)} cells, the header has {width}.",
            "Put the cells in their columns and send the row again.",
        )
    return None


def safe(cells: Sequence[str]) -> tuple[str, ...]:
    """Shorten huge cells, and replace what no database can hold."""
    return tuple(
        _UNREADABLE_SIGN.sub("\ufffd", cell)
        if len(cell) <= MAX_CELL_CHARS
        else cell[:_SHOWN_CHARS] + "…"
        for cell in cells
    )


_NO_DATA = frozenset({"header", "above-header", "repeated-heading", "units"})
_BROKEN_QUOTES = frozenset({"open-quote", "cut-short"})
_QUOTES = Fault(
    "quotes-broken",
    "A quotation mark is opened and not closed, so the cells cannot be told apart.",
    "Correct the quotation marks and send the row again.",
)
_TOO_LARGE = Fault(
    "cell-too-large",
    "A cell is far larger than any real one.",
    "Shorten the cell and send the row again.",
)
_BAD_BYTES = Fault(
    "bad-bytes",
    "The row holds bytes that are no text.",
    "Type the damaged cells again and send the row.",
)
_REASONS = {
    "above-header": "The line stands above the table.",
    "header": "This is the header.",
    "repeated-heading": "The header is repeated here.",
    "units": "The line below the header names units or formats.",
    "blank": "The line is empty.",
    "totals": "The line sums up others.",
    "below-table": "The line stands below the table.",
    "between-pages": "The line stands between two pages of the table.",
    "comment": "The line is a comment.",
}


def is_comment(row: Sequence[str]) -> bool:
    """Say whether a row is a comment."""
    return bool(row) and row[0].lstrip().startswith("#") and known_headings(row) == 0
