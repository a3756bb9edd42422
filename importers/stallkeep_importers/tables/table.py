"""Bytes → one table: its dialect, its header, a sample of its rows, and its records again."""

from __future__ import annotations

import hashlib
import io
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from itertools import pairwise
from typing import BinaryIO

import msgspec

from stallkeep_importers.contract import Options, RefusalError
from stallkeep_importers.tables.dialects import Dialect, find_dialect, known_headings, looks_typed
from stallkeep_importers.tables.encodings import Survey, sample_codec, survey
from stallkeep_importers.tables.file_types import (
    head_of,
    plain_stream,
    refuse_other_types,
    unpacked_sample,
)
from stallkeep_importers.tables.headings import Heading, find_header, heading
from stallkeep_importers.tables.preamble import Said, said_above
from stallkeep_importers.tables.records import RecordBatch, RecordReader
from stallkeep_importers.words import says_total

_SAMPLE_CHARS = 1 << 18
_SAMPLE_ROWS = 1000
_TWICE = re.compile(
    "\u00c3[\u00a0-\u00bf\u0152\u0178\u2013-\u2122]|\u00e2\u201a\u00ac|\u00c2[\u00a3\u00b0]"
)
_NO_TEXT = re.compile("[\0\ud800-\udfff]")
_FEWEST_SHORT = 3
_NARROW = 2
BATCH_ROWS = 4096


class Table(msgspec.Struct):
    """A table as its beginning shows it.

    Attributes:
        dialect: How cells are parted.
        header_record: Record number of the header, 0 without one.
        headings: Of every column; "#3" and so on without a header.
        sample: Full rows below the header, as many as the beginning held.
        shortest_usual: Fewest cells of a row whose missing ones may be empty cells left out.
        is_whole: Whether the sample is the whole table.
        said: What the lines above the header say about all rows.
        is_twice_encoded: Whether letters beyond ASCII look as if written in UTF-8 twice.
        survey: Facts about the bytes; None when only a sample was looked at.
        stream: The plain bytes.
    """

    dialect: Dialect
    header_record: int
    headings: list[Heading]
    sample: list[list[str]]
    shortest_usual: int
    is_whole: bool
    said: Said = Said()
    is_twice_encoded: bool = False
    survey: Survey | None = None
    stream: BinaryIO | None = None

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.headings)

    @property
    def fingerprint(self) -> str:
        """Equal for two files with the same headings and delimiter."""
        text = "\x1f".join([self.dialect.delimiter, *(found.text for found in self.headings)])
        return hashlib.blake2b(text.encode("utf-8", "replace"), digest_size=12).hexdigest()

    @contextmanager
    def batches(self, size: int = BATCH_ROWS) -> Iterator[Iterator[RecordBatch]]:
        """Read all records from the start of the file."""
        if self.survey is None or self.stream is None:
            raise ValueError("a sample has no records to read")
        with text_of(self.stream, self.survey) as text:
            yield RecordReader(text, self.dialect).batches(size)


def open_table(stream: BinaryIO, options: Options) -> Table:
    """Look at a whole file and find the table in it.

    Raises:
        RefusalError: It is empty, another kind of file, or no table.
        QuestionError: Its encoding cannot be told.
    """
    plain = plain_stream(stream)
    refuse_other_types(head_of(plain))
    facts = survey(plain, options)
    with text_of(plain, facts) as text:
        beginning = _whole_lines(text.read(_SAMPLE_CHARS), _SAMPLE_CHARS)
    beginning = _NO_TEXT.sub("\ufffd", beginning)
    table = _table_in(beginning, options)
    table.is_whole = table.is_whole and facts.size < _SAMPLE_CHARS
    table.survey = facts
    table.stream = plain
    return table


def sample_table(sample: bytes, options: Options) -> Table | None:
    """Look at the beginning of a file; None where it cannot be a table. Never raises."""
    return _sample_table(
        sample, options.languages, options.encoding, options.delimiter, options.header_record
    )


@lru_cache(maxsize=4)
def _sample_table(
    sample: bytes,
    languages: tuple[str, ...],
    encoding: str | None,
    delimiter: str | None,
    header_record: int | None,
) -> Table | None:
    """Look at a beginning once, for every importer that is asked about it."""
    options = Options(
        languages=languages, encoding=encoding, delimiter=delimiter, header_record=header_record
    )
    try:
        plain = unpacked_sample(sample)
        refuse_other_types(plain)
        text = plain.decode(sample_codec(plain, options), "replace")
        return _table_in(_whole_lines(text.removeprefix("\ufeff"), len(text)), options)
    except (RefusalError, LookupError, ValueError, TypeError):
        return None


@contextmanager
def text_of(stream: BinaryIO, facts: Survey) -> Iterator[io.TextIOWrapper]:
    """Decode a stream from its start and leave it open afterwards."""
    stream.seek(0)
    errors = "surrogateescape" if facts.bad_bytes else "strict"
    text = io.TextIOWrapper(_Lent(stream), facts.codec, errors, newline="")
    try:
        yield text
    finally:
        text.detach()


class _Lent(io.BufferedReader):
    """A stream somebody else closes."""

    def __init__(self, stream: BinaryIO) -> None:
        super().__init__(_LentRaw(stream), 1 << 18)


class _LentRaw(io.RawIOBase):
    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        piece = self._stream.read(len(buffer))
        buffer[: len(piece)] = piece
        return len(piece)


def _table_in(text: str, options: Options) -> Table:
    dialect = find_dialect(text, options.delimiter)
    reader = RecordReader(io.StringIO(text, newline=""), dialect)
    batch = next(reader.batches(_SAMPLE_ROWS), None)
    rows = batch.rows if batch else []
    if not rows:
        raise RefusalError("empty-file", "The file holds no rows.", "Export it again.")
    place = _header_place(rows, options)
    below = rows[place + 1 :] if place is not None else rows
    names = _trimmed(rows[place], below) if place is not None else []
    if place is not None:
        _refuse_table_above(rows[:place])
    width = len(names) or max(map(len, below), default=0)
    headings = [heading(cell) for cell in names] or [
        heading(f"#{index + 1}") for index in range(width)
    ]
    sample = [
        fitted
        for row in below
        if (fitted := fitted_row(row, width)) and _is_data(fitted, names, width)
    ]
    return Table(
        dialect=dialect,
        header_record=0 if place is None else place + 1,
        headings=headings,
        sample=sample,
        shortest_usual=_shortest_usual(below, width),
        is_whole=len(rows) < _SAMPLE_ROWS,
        is_twice_encoded=_TWICE.search(text) is not None,
        said=said_above(rows[:place]) if place else Said(),
    )


def _shortest_usual(rows: Sequence[Sequence[str]], width: int) -> int:
    """Know the habit of leaving out empty cells at a row's end: a fifth of the rows have it."""
    filled = [row for row in rows if any(row)]
    short = [len(row) for row in filled if 1 < len(row) < width]
    if len(short) * 5 < len(filled) or len(short) < _FEWEST_SHORT or len(filled) == len(short):
        return width
    return min(short) if min(short) * 2 >= width else width


def fitted_row(row: list[str], width: int) -> list[str] | None:
    """Bring a row to *width* where only empty cells are too many; None where it does not fit."""
    if len(row) == width:
        return row
    if len(row) > width and not any(cell.strip() for cell in row[width:]):
        return row[:width]
    return None


def _header_place(rows: Sequence[Sequence[str]], options: Options) -> int | None:
    if options.header_record is None:
        return find_header(rows)
    if options.header_record == 0:
        return None
    if options.header_record > len(rows):
        raise RefusalError(
            "header-missing",
            f"There is no record {options.header_record} near the start of the file.",
            "Name another header record.",
        )
    return options.header_record - 1


def _trimmed(row: Sequence[str], below: Sequence[Sequence[str]]) -> list[str]:
    """Leave out empty cells at the end of the header, unless rows have something there."""
    cells = list(row)
    while cells and not cells[-1].strip():
        if any(len(other) == len(row) and other[len(cells) - 1].strip() for other in below):
            break
        cells.pop()
    return cells


def _is_data(row: Sequence[str], names: Sequence[str], width: int) -> bool:
    """Leave headings repeated, remarks and totals out of what columns are judged by."""
    filled = [cell for cell in row if cell.strip()]
    if len(filled) <= (1 if width > _NARROW else 0) or list(row) == list(names):
        return False
    return width <= _NARROW or looks_typed(filled[0]) or not says_total(filled[0])


def _refuse_table_above(rows: Sequence[Sequence[str]]) -> None:
    """Raise RefusalError when a header with rows of its own stands above the table's header."""
    filled = [(number, row) for number, row in enumerate(rows, 1) if any(row)]
    for (number, first), (_, second) in pairwise(filled):
        typed = [any(map(looks_typed, filter(None, row))) for row in (first, second)]
        if len(first) == len(second) > 1 < known_headings(first) and typed == [False, True]:
            raise RefusalError(
                "two-tables",
                f"Another table begins in record {number}: {', '.join(first[:6])}.",
                "Put each table in a file of its own.",
                {"record": number, "headings": list(first)},
            )


def _whole_lines(text: str, limit: int) -> str:
    if len(text) < limit:
        return text
    end = max(text.rfind("\n"), text.rfind("\r"))
    return text[: end + 1] if end > 0 else text
