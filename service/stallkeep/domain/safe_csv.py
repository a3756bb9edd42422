"""CSV that a spreadsheet opens without running anything in it.

Source:
    RFC 4180 for the format; the guard against formulas follows common practice: a cell that
    begins with one of a few characters gets an apostrophe before it.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

_RUNS_AS_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?")


def safe_cell(text: str) -> str:
    """Make a cell harmless: an apostrophe goes before what a spreadsheet would run.

    A plain number stays as it is, so "-12.50" remains an amount.
    """
    if text.startswith(_RUNS_AS_FORMULA) and not _NUMBER.fullmatch(text):
        return "'" + text
    return text


def csv_text(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Write a table: comma, CRLF, quotes where needed, every cell made harmless."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow([safe_cell(cell) for cell in header])
    writer.writerows([safe_cell(cell) for cell in row] for row in rows)
    return stream.getvalue()
