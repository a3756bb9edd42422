"""Text → records, with their numbers and lines, none lost and none guessed.

The standard library's reader parts the lines, strictly. Where it stops, only the record at fault
is read again, leniently, and the next one starts on the next line: one broken quote never
swallows the rows after it.
"""

from __future__ import annotations

import csv
import re
from collections import Counter, deque
from collections.abc import Iterator, Sequence
from itertools import accumulate, chain, islice
from typing import TextIO

import msgspec

from stallkeep_importers.contract import RefusalError
from stallkeep_importers.tables.dialects import MAX_CELL_CHARS, Dialect, looks_typed

STRAY_QUOTE = "stray-quote"
OPEN_QUOTE = "open-quote"
CUT_SHORT = "cut-short"
TOO_LARGE = "cell-too-large"

LONG_CHARS = 1 << 15
_BLOCK_CHARS = 1 << 20
_LINE_END = re.compile(r"\r\n|\r|\n")
_MOST_TOGETHER = 1000
_SHAPES = 50
_MOST_COSTLY = 50
_COSTLY_LINES = 1000
_KEPT_CHARS = 500


class RecordBatch(msgspec.Struct):
    """Some records in file order.

    Attributes:
        rows: Cells of each record; a blank line has none.
        first_record: Number of the first one, from 1.
        lines: Physical line each one starts on.
        odd: Place in *rows* to what was wrong with the record's quotes.
        has_long_cells: Whether a line is so long that a cell may be too large.
    """

    rows: list[list[str]]
    first_record: int
    lines: Sequence[int]
    odd: dict[int, str]
    has_long_cells: bool = False


def kept_together(batches: Iterator[RecordBatch], place: int) -> Iterator[RecordBatch]:
    """Move the end of a batch to the next one where rows that belong together would be parted.

    Args:
        batches: Of one file.
        place: Cell whose equal text, row below row, says that rows belong together.
    """
    held: RecordBatch | None = None
    for batch in batches:
        whole = _joined(held, batch) if held else batch
        start = _start_of_last(whole.rows, place)
        if 0 < start < len(whole.rows) and len(whole.rows) - start <= _MOST_TOGETHER:
            held = _part(whole, start, len(whole.rows))
            yield _part(whole, 0, start)
        else:
            held = None
            yield whole
    if held:
        yield held


def _start_of_last(rows: list[list[str]], place: int) -> int:
    """Give where the rows begin that share the last row's cell."""
    last = rows[-1][place : place + 1]
    start = len(rows) - 1
    while last and start and rows[start - 1][place : place + 1] == last:
        start -= 1
    return start


def _part(batch: RecordBatch, start: int, stop: int) -> RecordBatch:
    return RecordBatch(
        batch.rows[start:stop],
        batch.first_record + start,
        batch.lines[start:stop],
        {at - start: what for at, what in batch.odd.items() if start <= at < stop},
        batch.has_long_cells,
    )


def _joined(first: RecordBatch, second: RecordBatch) -> RecordBatch:
    shift = len(first.rows)
    return RecordBatch(
        first.rows + second.rows,
        first.first_record,
        [*first.lines, *second.lines],
        first.odd | {at + shift: what for at, what in second.odd.items()},
        first.has_long_cells or second.has_long_cells,
    )


class RecordReader:
    """Records of one text, in batches, read once from its start."""

    def __init__(self, text: TextIO, dialect: Dialect) -> None:
        self._lines = _Lines(text)
        self._dialect = dialect
        self._costly = 0
        self._known = 0, 1
        self._shape: tuple[bool, ...] = ()
        self._next_line = 1
        self._next_record = 1
        self._open(1)

    def batches(self, size: int) -> Iterator[RecordBatch]:
        """Yield batches of *size* records, the last one shorter."""
        while batch := self._batch(size):
            yield batch

    def _open(self, line: int) -> None:
        self._base = line - 1
        self._reader = self._dialect.reader(
            chain.from_iterable(self._lines.blocks_from(line)), strict=True
        )

    def _read_line(self) -> int:
        """Give the number of lines taken from the text so far."""
        return self._base + int(self._reader.line_num)  # type: ignore[attr-defined]

    def _batch(self, size: int) -> RecordBatch | None:
        rows: list[list[str]] = []
        self._known = 0, self._next_line
        spans: dict[int, int] = {}
        odd: dict[int, str] = {}
        while len(rows) < size:
            try:
                # extend keeps what came before an error, so no row is read twice
                rows.extend(islice(self._reader, size - len(rows)))
                break
            except csv.Error as error:
                self._recover(rows, spans, odd, error)
        if not rows:
            return None
        if self._read_line() - self._next_line + 1 != len(rows):
            self._give_back_swallowed(rows, spans, odd)
        lines = self._starts(rows, spans)
        has_long_cells = self._lines.longest > LONG_CHARS or not isinstance(lines, range)
        batch = RecordBatch(rows, self._next_record, lines, odd, has_long_cells)
        self._next_record += len(rows)
        self._next_line = self._read_line() + 1
        self._lines.forget_before(self._next_line)
        return batch

    def _starts(self, rows: list[list[str]], spans: dict[int, int]) -> Sequence[int]:
        first = self._next_line
        if not spans and self._read_line() - first + 1 == len(rows):
            return range(first, first + len(rows))
        return list(accumulate(_spans(rows, spans), initial=first))[:-1]

    def _give_back_swallowed(
        self, rows: list[list[str]], spans: dict[int, int], odd: dict[int, str]
    ) -> None:
        """Undo a record that took whole rows into one cell between two stray quotes.

        It is told by a line inside the cell that has dates and amounts where other rows have
        them. Its first line is kept as broken, the others are read anew.
        """
        shape = self._usual_shape(rows)
        if not any(shape):
            return
        for place, row in enumerate(rows):
            if place in odd or not any(self._is_row(cell, shape) for cell in row):
                continue
            start = self._next_line + sum(_spans(rows[:place], spans))
            self._known = place + 1, start + 1
            first = self._lines.between(start, start)
            del rows[place:]
            for later in [number for number in odd if number > place]:
                del odd[later], spans[later]
            rows.append(next(iter(_lenient_rows(self._dialect, first)), []))
            odd[place], spans[place] = OPEN_QUOTE, 1
            self._open(start + 1)
            return

    def _usual_shape(self, rows: list[list[str]]) -> tuple[bool, ...]:
        """Say which cells of most rows look like dates and amounts."""
        if self._shape:
            return self._shape
        shapes = Counter(tuple(map(looks_typed, row)) for row in rows[:_SHAPES])
        shape = shapes.most_common(1)[0][0] if shapes else ()
        if len(rows) >= _SHAPES:
            self._shape = shape
        return shape

    def _is_row(self, cell: str, shape: tuple[bool, ...]) -> bool:
        """Say whether a line within a cell has dates and amounts where other rows have them."""
        for line in _LINE_END.split(cell)[1:]:
            typed = tuple(map(looks_typed, line.split(self._dialect.delimiter)))
            if typed == shape or (len(typed) == len(shape) and any(typed) and not any(shape)):
                return True
        return False

    def _recover(
        self, rows: list[list[str]], spans: dict[int, int], odd: dict[int, str], error: csv.Error
    ) -> None:
        """Read the record at fault leniently and go on behind it."""
        known, line = self._known
        since = dict(enumerate(spans.get(place, 0) for place in range(known, len(rows))))
        start = line + sum(_spans(rows[known:], since))
        taken = self._lines.between(start, self._read_line())
        row, span, what = self._lenient(taken, rows, error)
        if what != STRAY_QUOTE and len(taken) > _COSTLY_LINES:
            self._costly += 1
        if self._costly > _MOST_COSTLY:
            raise RefusalError(
                "quotes-broken",
                f"Quotation marks are opened and never closed, again in line {start}.",
                "Export the file again; it was damaged on its way.",
                {"line": start},
            )
        spans[len(rows)] = span
        odd[len(rows)] = what
        rows.append(row)
        self._known = len(rows), start + span
        self._open(start + span)

    def _lenient(
        self, taken: list[str], rows: list[list[str]], error: csv.Error
    ) -> tuple[list[str], int, str]:
        """Give the row, how many lines it is, and what was wrong with it."""
        if "field limit" in str(error) and len(taken[0]) > MAX_CELL_CHARS:
            return [taken[0][:_KEPT_CHARS]], 1, TOO_LARGE
        whole = _lenient_rows(self._dialect, taken)
        shape = self._usual_shape(rows)
        is_open = "unexpected end" in str(error)
        is_one = not is_open and len(whole) == 1 and len(whole[0]) == len(shape)
        if is_one and not any(self._is_row(cell, shape) for cell in whole[0]):
            return whole[0], len(taken), STRAY_QUOTE
        first = next(iter(_lenient_rows(self._dialect, taken[:1])), [])
        if _closes(self._dialect, taken[0]):
            return first, 1, STRAY_QUOTE
        return first, 1, CUT_SHORT if len(taken) == 1 else OPEN_QUOTE


class _Lines:
    """Physical lines in blocks, kept from the oldest that may be needed again."""

    def __init__(self, text: TextIO) -> None:
        self._text = text
        self._blocks: deque[tuple[int, list[str]]] = deque()
        self._next = 1
        self.longest = 0

    def blocks_from(self, line: int) -> Iterator[list[str]]:
        for first, block in list(self._blocks):
            if first + len(block) > line:
                yield block[max(0, line - first) :]
        while block := self._text.readlines(_BLOCK_CHARS):
            self._blocks.append((self._next, block))
            self._next += len(block)
            self.longest = max(self.longest, *map(len, block))
            yield block

    def between(self, first: int, last: int) -> list[str]:
        kept: list[str] = []
        for start, block in self._blocks:
            kept += block[max(0, first - start) : max(0, last + 1 - start)]
        return kept

    def forget_before(self, line: int) -> None:
        while self._blocks and self._blocks[0][0] + len(self._blocks[0][1]) <= line:
            self._blocks.popleft()


def _spans(rows: list[list[str]], known: dict[int, int]) -> Iterator[int]:
    """Count the physical lines of each row from the line ends inside its cells."""
    for place, row in enumerate(rows):
        yield known.get(place) or 1 + sum(len(_LINE_END.findall(cell)) for cell in row)


def _lenient_rows(dialect: Dialect, lines: list[str]) -> list[list[str]]:
    try:
        return list(dialect.reader(lines, strict=False))
    except csv.Error:
        return [[lines[0][:_KEPT_CHARS]]]


def _closes(dialect: Dialect, line: str) -> bool:
    """Say whether a line's quotes are closed at its end, whatever stands beside them."""
    try:
        list(dialect.reader([line], strict=True))
    except csv.Error as error:
        return "unexpected end" not in str(error)
    return True
