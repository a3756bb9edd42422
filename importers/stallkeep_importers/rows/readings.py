"""One file being read: each record becomes a transaction, a reject or a counted skip, in order."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TypeAlias

from stallkeep_importers.cells.cell_tests import is_date
from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.contract import Notice, Outcome, Reject, Skip
from stallkeep_importers.currencies import shown
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.endings import refuse_cut_short
from stallkeep_importers.rows.fields import MONEY_FIELDS
from stallkeep_importers.rows.remarks import Found, Remark, Remarks
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.strange_rows import (
    is_comment,
    is_heading,
    is_heading_again,
    is_remark,
    is_units,
    refuse_part,
    refuse_second_table,
    refuse_strange_heading,
    reject,
    skip,
    whole_row_fault,
)
from stallkeep_importers.rows.totals import (
    Totals,
    exact_labels,
    is_totals_row,
    labelled,
    noted,
    sums_in,
)
from stallkeep_importers.tables.dialects import looks_typed
from stallkeep_importers.tables.records import STRAY_QUOTE, RecordBatch
from stallkeep_importers.tables.table import fitted_row

Convert: TypeAlias = Callable[[Block], list[Outcome]]


class Reading:
    """Turns the records of one sheet into outcomes.

    Args:
        sheet: What is read.
        convert: Gives one outcome per row of a block, noting faults in it.
    """

    def __init__(self, sheet: Sheet, convert: Convert) -> None:
        self._sheet = sheet
        self._table = sheet.table
        self._convert = convert
        self._totals = Totals()
        self._remarks = Remarks()
        self._stray = 0
        self._first_stray = 0
        self._differing: list[str] = []
        facts = sheet.table.survey
        first = [cells[0] for cells in sheet.table.sample if cells[0].strip()]
        self._begins_typed = sum(map(looks_typed, first)) * 2 > len(first)
        self._suspicious = bool(facts and (facts.bad_bytes or facts.nuls or facts.is_wide))
        self._last: RecordBatch | None = None
        self._last_taken_line = 0

    def outcomes(self, batches: Iterator[RecordBatch]) -> Iterator[list[Outcome] | list[Notice]]:
        """Yield outcomes in lists, one per record and in file order; at the end, notices.

        Raises:
            RefusalError: The file is cut short, or holds a second table.
        """
        found: list[Found] = []
        for batch in batches:
            self._last = batch
            found = self._batch(batch)
            yield self._remarks.settled(found)
        if self._last:
            is_data = bool(found) and not isinstance(found[-1], (Skip, Remark))
            refuse_cut_short(self._sheet, self._last, self._last_taken_line, is_data=is_data)
        yield self._remarks.below_table()
        yield list(self._notices())

    def _batch(self, batch: RecordBatch) -> list[Found]:
        found: list[Found | None] = [None] * len(batch.rows)
        width = self._table.width
        start = max(0, self._table.header_record - batch.first_record + 1)
        rows = batch.rows
        places: Sequence[int] = range(min(start, len(rows)), len(rows))
        for place in range(min(start, len(rows))):
            is_header = batch.first_record + place == self._table.header_record
            found[place] = self._skip(batch, place, "header" if is_header else "above-header")
        is_plain = not self._suspicious and not batch.odd and not batch.has_long_cells
        if not is_plain or set(map(len, rows[places[0] :] if places else ())) - {width}:
            places, rows = self._sorted_out(batch, places, found)
        if places:
            self._take(batch, rows, places, found)
            self._last_taken_line = batch.lines[places[-1]]
        return [outcome for outcome in found if outcome is not None]

    def _sorted_out(
        self, batch: RecordBatch, places: Sequence[int], found: list[Found | None]
    ) -> tuple[list[int], list[list[str]]]:
        """Judge the rows that are not as wide as the table; give the places of the others."""
        rows = list(batch.rows)
        plain: list[int] = []
        for place in places:
            row = rows[place]
            odd = batch.odd.get(place)
            if not any(cell.strip() for cell in row) and not odd:
                found[place] = self._skip(batch, place, "blank")
                continue
            rows[place] = fitted_row(row, self._table.width) or self._padded(row)
            fault = whole_row_fault(rows[place], self._table.width, odd)
            if odd == STRAY_QUOTE and not fault:
                self._stray += 1
                self._first_stray = self._first_stray or batch.lines[place]
            if fault is None:
                plain.append(place)
                continue
            as_reject = reject(
                batch.first_record + place, batch.lines[place], fault, row, self._sheet
            )
            found[place] = self._judged(batch, place, row, as_reject)
        return plain, rows

    def _padded(self, row: list[str]) -> list[str]:
        """Complete a short row where the file's habit is to leave out empty cells at the end."""
        missing = self._table.width - len(row)
        if missing > 0 and len(row) >= self._table.shortest_usual:
            return row + [""] * missing
        return row

    def _take(
        self,
        batch: RecordBatch,
        rows: Sequence[list[str]],
        places: Sequence[int],
        found: list[Found | None],
    ) -> None:
        """Convert full rows, then judge those with faults and those that may be totals."""
        first = batch.first_record
        if isinstance(places, range):
            block = Block(
                self._sheet,
                rows[places[0] :],
                range(first + places[0], first + len(rows)),
                batch.lines[places[0] :],
            )
        else:
            block = Block(
                self._sheet,
                [rows[place] for place in places],
                [first + place for place in places],
                [batch.lines[place] for place in places],
            )
        outcomes: list[Found] = list(self._convert(block))
        labels = labelled(block)
        done = 0
        notes = noted(block)
        for number in sorted({*block.faults, *labels, *notes, *sums_in(block, self._totals)}):
            self._totals.add(block, done, number)
            if number in labels or (number in notes and self._totals.is_one_row):
                self._refuse_unclear_total(block, number, is_label=number in labels)
            done = number + self._replace(batch, places[number], block, number, outcomes)
        self._totals.add(block, done, len(block))
        if isinstance(places, range):
            found[places[0] :] = outcomes
            return
        for place, outcome in zip(places, outcomes, strict=True):
            found[place] = outcome

    def _replace(
        self, batch: RecordBatch, place: int, block: Block, number: int, outcomes: list[Found]
    ) -> int:
        """Judge one doubtful row of a block; give 0 where it stays data, else 1."""
        row = block.rows[number]
        values = {field: amounts[number] for field, amounts in block.summed.items()}
        if number not in block.faults:
            if not self._totals.agrees(values):
                return 0
            outcomes[number] = self._total(batch, place, values)
            return 1
        if block.faults[number][1] is not _UNCLEAR_TOTAL and self._is_total(row):
            outcomes[number] = self._total(batch, place, values)
            return 1
        outcomes[number] = self._judged(batch, place, row, block.reject(number))
        return 1

    def _is_total(self, row: Sequence[str]) -> bool:
        """Say whether a row that cannot be data is a totals line.

        One with a day of its own is one only where a cell says nothing else: in another, "Total
        eclipse poster" is what was sold.
        """
        if is_heading(row):
            return False
        place = self._sheet.places.get(self._sheet.day_field or "")
        if place is not None and is_date(row[place]):
            return not exact_labels("totals").isdisjoint(cell.strip() for cell in row)
        return is_totals_row(row)

    def _refuse_unclear_total(self, block: Block, number: int, *, is_label: bool) -> None:
        """Note a row that says it is a total, can be read as data, and is no sum of others.

        One that says so in its note alone is in doubt where it repeats the only row above it.
        """
        values = {field: amounts[number] for field, amounts in block.summed.items()}
        if number not in block.faults and self._totals.agrees(values) != is_label:
            block.fault(number, "", _UNCLEAR_TOTAL)

    def _judged(self, batch: RecordBatch, place: int, row: list[str], as_reject: Reject) -> Found:
        """Say what a row is that cannot be data as it stands."""
        if not any(map(str.strip, row)):
            return self._skip(batch, place, "blank")
        code = self._code_of(batch.first_record + place, row)
        if code:
            return self._skip(batch, place, code)
        refuse_second_table(row, batch.lines[place])
        if len(row) != self._table.width and is_totals_row(row):
            self._totals.end_part()
            return self._skip(batch, place, "totals")
        refuse_part(row, batch.lines[place])
        if len(row) == self._table.width and place and not any(batch.rows[place - 1]):
            refuse_strange_heading(row, self._sheet, batch.lines[place])
        if is_remark(row, self._table.width) and not self._may_be_data(row):
            return Remark(self._skip(batch, place, "below-table"), as_reject)
        self._totals.is_whole = False
        return as_reject

    def _may_be_data(self, row: Sequence[str]) -> bool:
        """Say whether a row that looks like a remark may be data all the same.

        It has a day in its place, or text and an amount as the table's rows begin.
        """
        day = self._sheet.places.get(self._sheet.day_field or "")
        if day is not None and len(row) == self._table.width and is_date(row[day]):
            return True
        filled = [cell for cell in row if cell.strip()]
        is_pair = len(filled) == 2 and looks_typed(filled[1])  # noqa: PLR2004 - a pair
        if not is_pair or self._table.width == 2:  # noqa: PLR2004
            return False
        return bool(row[0].strip()) and not self._begins_typed

    def _code_of(self, record: int, row: list[str]) -> str | None:
        """Give the code of a row that belongs to the table's frame, None for others."""
        if is_heading_again(row, self._sheet):
            return "repeated-heading"
        if record == self._table.header_record + 1:
            if is_units(row):
                return "units"
            if is_heading(row) and len(row) == self._table.width:
                return "repeated-heading"
        return "comment" if is_comment(row) else None

    def _total(self, batch: RecordBatch, place: int, values: dict[str, int | None]) -> Skip:
        if not self._totals.agrees(values) and self._totals.is_whole:
            self._note_difference(batch.lines[place], values)
        self._totals.end_part()
        return self._skip(batch, place, "totals")

    def _note_difference(self, line: int, values: dict[str, int | None]) -> None:
        told = self._totals.describe(values)
        if told and told[0] != told[1]:
            self._differing.append(
                f"The totals line {line} says {self._shown(told[0])}, its rows add up to "
                f"{self._shown(told[1])}."
            )

    def _shown(self, value: int) -> str:
        """Write a sum as people do: money with its decimals, pieces as they are."""
        is_money = bool(MONEY_FIELDS & self._sheet.places.keys())
        return shown(value, self._sheet.currency) if is_money else str(value)

    def _skip(self, batch: RecordBatch, place: int, code: str) -> Skip:
        return skip(
            batch.first_record + place, batch.lines[place], code, batch.rows[place], self._sheet
        )

    def _notices(self) -> Iterator[Notice]:
        if self._stray:
            yield Notice(
                code="stray-quotes",
                text=f"In {self._stray} rows quotation marks stand inside cells; they were read as "
                f"they stand. The first is line {self._first_stray}.",
            )
        for code, count in sorted(self._sheet.tally.items()):
            yield Notice(code=code, text=_TALLIED[code].format(count=count))
        for text in self._differing[:20]:
            yield Notice(code="totals-differ", text=text)


_UNCLEAR_TOTAL = Fault(
    "totals-unclear",
    "The row says that it is a total, and the rows above do not show whether it is.",
    "Take the row out if it is a total, or rename it if it is none.",
)
_TALLIED = {
    "fee-unknown": "{count} refunds show a fee, and the file does not say whether it was kept or "
    "given back; it was left out.",
    "not-sent": "{count} rows say that the piece was not sent or delivered yet; they were taken as "
    "sold.",
    "damaged-ids": "{count} ids were damaged by a spreadsheet (such as 1.2E+17) and not taken; "
    "those rows are known by their content instead.",
    "refund-unknown": "{count} payments are marked as given back, and the file does not say how "
    "much, or whether their refunds have rows of their own.",
}
