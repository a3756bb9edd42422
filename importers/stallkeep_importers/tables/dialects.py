"""How the cells of a text table are parted: a search over few candidates, none of them a guess.

A candidate is better the more even its rows are, the more of its cells are dates and amounts, and
the more column headings it makes of words we know.
"""

# ruff: noqa: RUF001 - the odd signs are the subject

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

import msgspec

from stallkeep_importers.cells.latin import latin
from stallkeep_importers.words import heading_words, plain, plain_heading

DELIMITERS = (",", ";", "\t", "|")
_NUMBERED = re.compile(r"([^\W\d_]+)[ ._-]?[0-9]{1,2}")
RATE = r"[0-9]{1,2}(?:[.,][0-9]{1,2})?\s?%"
MAX_CELL_CHARS = 16 << 20
_ROWS = 200
_SPOILT = 0.8
_TYPED_CHARS = 60
_HEADING_CHARS = 80
_HEADING_ROWS = 50
_QUOTE_AT_EDGE = {
    '"': re.compile(r"""(?:^|[,;\t|] ?)"|"(?:$|[,;\t|])""", re.MULTILINE),
    "'": re.compile(r"""(?:^|[,;\t|])'[^'\n]*'(?=[,;\t|\r\n])""", re.MULTILINE),
}
_WRAPPED = re.compile(r'"((?:[^"]|"")*)"(\r\n|\r|\n)?')
_TYPED = re.compile(
    r"""\s*(?:
        [-+(−]?\s?(?:[A-Z]{3}|\D{0,3})?\s?[0-9][0-9.,'’\s]*\s?(?:[A-Z]{3}|[^\w\s]{0,3}|kr\.?)?\)?-?
      | [0-9]{1,4}[-./年][\s]?[0-9]{1,2}[-./月][\s]?[0-9]{1,4}日?(?:[T\s].{4,30})?
      | [0-9]{1,2}[:h][0-9]{2}(?::[0-9]{2})?\s?(?:[ap]\.?m\.?)?
    )\s*""",
    re.VERBOSE | re.IGNORECASE,
)


class Dialect(msgspec.Struct, frozen=True):
    r"""One way to part a line.

    Attributes:
        delimiter: One character.
        quote: One character, or "" where quotes are nothing special.
        escape: "\" or None where a quote is doubled.
        skip_space: Whether blanks after a delimiter are no part of the cell.
        is_wrapped: Whether whole lines were quoted once more.
    """

    delimiter: str
    quote: str = '"'
    escape: str | None = None
    skip_space: bool = False
    is_wrapped: bool = False

    def reader(self, lines: Iterable[str], *, strict: bool) -> Iterator[list[str]]:
        """Part lines into rows with the standard library's reader; ``line_num`` counts lines."""
        allow_long_cells()
        if self.is_wrapped:
            lines = map(_unwrapped, lines)
        return csv.reader(
            lines,
            delimiter=self.delimiter,
            quotechar=self.quote or None,
            quoting=csv.QUOTE_MINIMAL if self.quote else csv.QUOTE_NONE,
            doublequote=self.escape is None,
            escapechar=self.escape,
            skipinitialspace=self.skip_space,
            strict=strict,
        )


def allow_long_cells() -> None:
    """Raise the reader's own limit, which is one for the whole process and far too low."""
    if csv.field_size_limit() != MAX_CELL_CHARS:
        csv.field_size_limit(MAX_CELL_CHARS)


def looks_typed(cell: str) -> bool:
    """Say whether a cell looks like a date, a time of day, a number or an amount.

    A word and a rate or a count behind it, such as "VAT 20%" or "Fee 2", is a heading.
    """
    if cell[:1].isalpha() and (cell.endswith("%") or _is_numbered(cell)):
        return False
    return len(cell) <= _TYPED_CHARS and _TYPED.fullmatch(latin(cell)) is not None


def _is_numbered(cell: str) -> bool:
    match = _NUMBERED.fullmatch(cell)
    return match is not None and plain(match[1]) in heading_words()


def find_dialect(text: str, delimiter: str | None = None) -> Dialect:
    """Choose how to part a table from its beginning.

    Args:
        text: The first part of the file, ended at a line's end where it is longer.
        delimiter: What the shop says, or None.

    Returns:
        The best candidate; the earlier delimiter of ``, ; tab |`` where two are equal.
    """
    candidates = list(_candidates(text, (delimiter,) if delimiter else DELIMITERS))
    return max(candidates, key=lambda dialect: _score(text, dialect))


def known_headings(row: Sequence[str]) -> int:
    """Count the cells of a row that are column headings we know."""
    words = heading_words()
    return sum(
        1
        for cell in row
        if cell
        and len(cell) <= _HEADING_CHARS
        and plain_heading(bare_heading(cell), words) in words
    )


def bare_heading(cell: str) -> str:
    """Leave out what stands in brackets in a heading, a rate, and a mark at its start."""
    return re.sub(rf"[\(\[（].*?[\)\]）]|{RATE}", " ", cell.strip("﻿")).strip() or cell


def _candidates(text: str, delimiters: Iterable[str]) -> Iterator[Dialect]:
    single = len(_QUOTE_AT_EDGE["'"].findall(text)) > len(_QUOTE_AT_EDGE['"'].findall(text))
    quote = "'" if single else '"'
    lines = text.splitlines()[:_ROWS]
    wrapped = 2 * sum(_WRAPPED.fullmatch(line) is not None for line in lines) >= len(lines) > 1
    escapes = (None, "\\") if "\\" + quote in text else (None,)
    for delimiter in delimiters:
        skip = f"{delimiter} {quote}" in text
        yield from (Dialect(delimiter, quote, escape, skip) for escape in escapes)
        if wrapped:
            yield Dialect(delimiter, '"', None, skip, is_wrapped=True)


def _unwrapped(line: str) -> str:
    match = _WRAPPED.fullmatch(line)
    return match[1].replace('""', '"') + (match[2] or "") if match else line


def _score(text: str, dialect: Dialect) -> float:
    found, is_clean = _rows(text, dialect)
    rows = [row for row in found if any(row)]
    widths = Counter(len(row) for row in rows if len(row) > 1)
    if not widths:
        return 0.0
    width, count = max(widths.items(), key=lambda item: (item[1] * (item[0] - 1), item[0]))
    even = [row for row in rows if len(row) == width]
    cells = [cell for row in even for cell in row if cell]
    typed = sum(map(looks_typed, cells)) / max(1, len(cells))
    words = max((known_headings(row) for row in rows[:_HEADING_ROWS]), default=0) / width
    merit = count / len(rows) * (0.3 + typed + 2 * words) * (1 - 0.5 / width)
    return merit if is_clean else merit * _SPOILT


def _rows(text: str, dialect: Dialect) -> tuple[list[list[str]], bool]:
    """Give the first rows, and whether their quotes are as the dialect has them."""
    for strict in (True, False):
        rows: list[list[str]] = []
        try:
            # extend keeps what came before an error
            rows.extend(islice(dialect.reader(io.StringIO(text, newline=""), strict=strict), _ROWS))
        except csv.Error:
            continue
        return rows, strict
    return rows, False
