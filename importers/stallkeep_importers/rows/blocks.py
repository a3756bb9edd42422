"""A batch of plain rows, read column by column; what cannot be read is noted by row."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Collection, Mapping, Sequence

from stallkeep_importers.cells.cell_tests import side_of
from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.cells.money_columns import Amount, Foreign
from stallkeep_importers.cells.personal import SHORTEST_CARD, blanked, without_card_numbers
from stallkeep_importers.contract import Reject
from stallkeep_importers.currencies import currencies_of
from stallkeep_importers.rows.cell_faults import (
    missing,
    no_count,
    no_currency,
    no_side,
    other_currency,
)
from stallkeep_importers.rows.fields import DATE_FIELDS, MONEY_FIELDS, SIDED
from stallkeep_importers.rows.flags import Flag, answer_of, answer_under, flagged, unanswered
from stallkeep_importers.rows.row_ids import DAMAGED
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.states import state_of
from stallkeep_importers.words import plain_among

_COUNT = re.compile("([0-9]{1,6})(?:[.,]0{1,2})?")
_SHOWN_CHARS = 200
_GIVEN_BACK = frozenset({"refund", "refunded", "partly_refunded", "partial"})


class Block:
    """Some rows of a sheet that have the width of its header.

    Attributes:
        sheet: Where they come from.
        rows: Cells by row.
        records: Record number of each row.
        lines: Physical line of each row.
        currency: ISO code of every row's amounts, or one for each.
        faults: Row to its first fault and the field it is in.
        amounts: Field of money to its amounts by row, as the file writes them, once read.
        pieces: Numbers of pieces by row, once read.
        flagged: Row to what a column of yes and no makes of it; those are faulty.
        denied: Row to what a no under "Paid" or "Live" makes of it, and the heading.
        unsent: Rows whose piece was not sent or delivered yet.
        left_out: Rows that are skips because nothing was paid.
    """

    def __init__(
        self,
        sheet: Sheet,
        rows: Sequence[list[str]],
        records: Sequence[int],
        lines: Sequence[int],
    ) -> None:
        self.sheet = sheet
        self.rows = rows
        self.records = records
        self.lines = lines
        self.faults: dict[int, tuple[str, Fault]] = {}
        self.amounts: dict[str, list[int | None]] = {}
        self.pieces: list[int] = []
        self.left_out: set[int] = set()
        self._columns = list(zip(*rows, strict=True)) or [()] * sheet.table.width
        self.currency: str | list[str] = self._currency()
        self.flagged = self._flagged()
        self.unsent: set[int] = set()
        self.denied = self._denied()

    def __len__(self) -> int:
        return len(self.rows)

    def has(self, field: str) -> bool:
        """Say whether the file has a column for a field."""
        return field in self.sheet.places

    def currency_of(self, place: int) -> str:
        """Give the ISO code of one row's amounts."""
        return self.currency if isinstance(self.currency, str) else self.currency[place]

    def cells(self, field: str) -> Sequence[str]:
        """Give a field's cells as they stand; empty ones where there is no such column."""
        place = self.sheet.places.get(field)
        return ("",) * len(self) if place is None else self._columns[place]

    def texts(self, field: str) -> Sequence[str | None]:
        """Give a field's cells as text, None for empty ones."""
        if not self.has(field):
            return [None] * len(self)
        return [cell or None for cell in self.cells(field)]

    def notes(self, field: str) -> Sequence[str | None]:
        """Give free text, with the digits of card numbers hidden."""
        if not self.has(field):
            return [None] * len(self)
        return [
            (cell if len(cell) < SHORTEST_CARD else without_card_numbers(cell)) or None
            for cell in self.cells(field)
        ]

    def ids(self, field: str) -> Sequence[str | None]:
        """Give ids as text; those a spreadsheet has damaged are left out and counted."""
        found = self.texts(field)
        if field in self.sheet.damaged:
            self.sheet.tally["damaged-ids"] += sum(1 for text in found if text)
            return [None] * len(self)
        if "E+" in "".join(self.cells(field)):
            kept = [None if text and DAMAGED.fullmatch(text) else text for text in found]
            lost = sum(1 for text, own in zip(found, kept, strict=True) if text and not own)
            self.sheet.tally["damaged-ids"] += lost
            return kept
        return found

    def text_columns(self) -> list[Sequence[str]]:
        """Give the columns that are neither money nor dates nor free notes."""
        typed = {
            place
            for field, place in self.sheet.places.items()
            if field in MONEY_FIELDS
            or field in DATE_FIELDS
            or field in ("note", "title", "time", "supplier")
        }
        return [cells for place, cells in enumerate(self._columns) if place not in typed]

    def fault(self, place: int, field: str, fault: Fault) -> None:
        """Note that a row cannot be taken; the first word stands."""
        self.faults.setdefault(place, (field, fault))

    def money(self, field: str, *, required: bool = False) -> list[int | None]:
        """Read a field of money; faulty cells are noted and given as None, or 0 if required."""
        if not self.has(field):
            return [None] * len(self)
        if field in self.amounts:
            return list(self.amounts[field])
        column = self.sheet.money(field)
        values = column.values(self.cells(field), self.currency)
        if column.foreign:
            self._take_foreign(field, values)
        if field in SIDED and self.has("side"):
            self._take_sides(field, values)
        if column.faulty:
            for place, value in enumerate(values):
                if isinstance(value, Fault):
                    self.fault(place, field, value)
                    values[place] = None
        for name in self.sheet.further.get(field, ()):
            values = [
                more if value is None else value + (more or 0)  # type: ignore[operator]
                for value, more in zip(values, self.money(name), strict=True)
            ]
        if required and None in values:
            self._require(field, values)
        self.amounts[field] = values  # type: ignore[assignment]
        return list(self.amounts[field])

    def _require(self, field: str, values: list[Amount]) -> None:
        for place, value in enumerate(values):
            if value is None:
                self.fault(place, field, missing(self.sheet.header_of(field), "amount"))
                values[place] = 0

    def moments(self) -> tuple[list[dt.date], list[dt.datetime | None]]:
        """Read the days and moments of all rows; a row without a day is faulty."""
        sheet = self.sheet
        if sheet.moments is None or sheet.day_field is None:
            raise ValueError("the sheet has no column of dates")
        times = self.cells("time") if self.has("time") else None
        zones = self.cells("zone") if self.has("zone") else None
        days, moments = sheet.moments.values(self.cells(sheet.day_field), times, zones)
        return self._days(sheet.day_field, days), moments

    def dates(self, field: str) -> list[dt.date | None]:
        """Read a field of days; None for empty cells."""
        if not self.has(field):
            return [None] * len(self)
        column = self.sheet.date(field)
        found: list[dt.date | None] = []
        for place, cell in enumerate(self.cells(field)):
            value = column.of_moment(cell)
            if isinstance(value, Fault):
                self.fault(place, field, value)
                value = None
            found.append(value)
        return found

    def counts(self, field: str, default: int = 1, *, minus_at: Collection[int] = ()) -> list[int]:
        """Read whole numbers; *default* for empty cells.

        Args:
            field: Whose cells.
            default: For empty cells.
            minus_at: Rows whose number may be written with a minus, which is left out: refunds.
        """
        if not self.has(field):
            return [default] * len(self)
        found = []
        for place, cell in enumerate(self.cells(field)):
            text = cell.strip()
            if place in minus_at:
                text = text.removeprefix("-")
            value = default
            if match := _COUNT.fullmatch(text):
                value = int(match[1])
            elif text:
                self.fault(place, field, no_count(cell))
            found.append(value)
        self.pieces = found
        return found

    @property
    def summed(self) -> Mapping[str, Sequence[int | None]]:
        """What a totals line may sum up: amounts, or pieces where there is no money."""
        return self.amounts or ({"quantity": self.pieces} if self.pieces else {})

    def meanings(
        self, field: str, words: Mapping[str, str], unknown: Callable[[str], Fault]
    ) -> list[str | None]:
        """Give the meaning of word cells; None for empty ones, a fault for unknown ones."""
        if not self.has(field):
            return [None] * len(self)
        cells = self.cells(field)
        found = {cell: words.get(plain_among(cell, words)) for cell in set(cells)}
        strange = {cell for cell, word in found.items() if word is None and cell.strip()}
        for place, cell in enumerate(cells) if strange else ():
            if cell in strange:
                self.fault(place, field, unknown(cell))
        return list(map(found.__getitem__, cells))

    def common(self) -> dict[str, Sequence[object] | None]:
        """Give the columns every kind of transaction has: place in the file, currency, the rest."""
        single = isinstance(self.currency, str)
        return {
            "record": self.records,
            "line": self.lines,
            "currency": [self.currency] * len(self) if single else self.currency,
            "more": self.more() if self.sheet.more else None,
        }

    def texts_of(self, *fields: str) -> dict[str, Sequence[str | None] | None]:
        """Give fields of text, None for those without a column."""
        return {field: self.texts(field) if self.has(field) else None for field in fields}

    def ids_of(self, *fields: str) -> dict[str, Sequence[str | None] | None]:
        """Give fields of ids, None for those without a column."""
        return {field: self.ids(field) if self.has(field) else None for field in fields}

    def more(self) -> Sequence[dict[str, str] | None]:
        """Give the cells of columns that are not used, by heading."""
        kept = [(header, self._columns[place]) for place, header in self.sheet.more]
        filled = [(header, cells) for header, cells in kept if any(cells)]
        if not filled:
            return [None] * len(self)
        headers = [header for header, _ in filled]
        return [
            {header: cell for header, cell in zip(headers, row, strict=True) if cell} or None
            for row in zip(*(cells for _, cells in filled), strict=True)
        ]

    def reject(self, place: int) -> Reject:
        """Give the reject of a faulty row."""
        field, fault = self.faults[place]
        column = self.sheet.places.get(field)
        row = self.rows[place]
        return Reject(
            record=self.records[place],
            line=self.lines[place],
            code=fault.code,
            reason=fault.reason,
            advice=fault.advice,
            column=None if column is None else self.sheet.table.headings[column].text,
            value=None if column is None else row[column][:_SHOWN_CHARS],
            cells=blanked(row, self.sheet.personal, in_place=True),
        )

    def _days(self, field: str, days: list[dt.date | Fault | None]) -> list[dt.date]:
        if set(map(type, days)) == {dt.date}:
            return days  # type: ignore[return-value]
        found: list[dt.date] = []
        for place, day in enumerate(days):
            if isinstance(day, dt.date):
                found.append(day)
                continue
            fault = day or missing(self.sheet.header_of(field), "date")
            about_time = self.has("time") and fault.code.startswith("time-")
            self.fault(place, "time" if about_time else field, fault)
            found.append(dt.date.min)
        return found

    def _currency(self) -> str | list[str]:
        if not self.has("currency"):
            return self.sheet.currency
        cells = self.cells("currency")
        codes = {cell: self._code(cell) for cell in set(cells)}
        if len(codes) == 1 and (only := next(iter(codes.values()))):
            return only
        for place, cell in enumerate(cells):
            if codes[cell] is None:
                self.fault(place, "currency", no_currency(cell))
        return [codes[cell] or self.sheet.currency for cell in cells]

    def _code(self, cell: str) -> str | None:
        if not cell.strip():
            return self.sheet.currency
        found = currencies_of(cell)
        if self.sheet.currency in found:
            return self.sheet.currency
        return next(iter(found)) if len(found) == 1 else None

    def _flagged(self) -> dict[int, str]:
        found: dict[int, str] = {}
        for flag in self.sheet.flags:
            for place, cell in enumerate(self._columns[flag.place]):
                if answer_of(cell) != "no" and not self._says_refund(place, flag):
                    found[place] = flag.meaning
                    self.fault(place, "", flagged(cell, flag))
        return found

    def _says_refund(self, place: int, flag: Flag) -> bool:
        """Say whether the row itself tells what a yes under "Refunded" speaks of."""
        if flag.meaning not in _GIVEN_BACK:
            return False
        is_amount = any(letter in "123456789" for letter in self.cells("refunded")[place])
        return is_amount or state_of(self.cells("state")[place]) in _GIVEN_BACK

    def _denied(self) -> dict[int, tuple[str, str]]:
        found: dict[int, tuple[str, str]] = {}
        for flag in self.sheet.denials:
            for place, cell in enumerate(self._columns[flag.place]):
                answer = answer_under(flag, cell)
                if answer is None:
                    self.fault(place, "", unanswered(cell, flag))
                elif answer == flag.by and flag.meaning == "not_sent":
                    self.unsent.add(place)
                elif answer == flag.by:
                    found[place] = (flag.meaning, flag.header)
        return found

    def _take_sides(self, field: str, values: list[Amount]) -> None:
        """Let a column of CR and DR give amounts their sign; a minus must agree with it."""
        for place, (cell, value) in enumerate(zip(self.cells("side"), values, strict=True)):
            if not isinstance(value, int):
                continue
            side = side_of(cell)
            if side is None or (value < 0 and side == "in"):
                self.fault(place, "side", no_side(cell))
            elif side == "out":
                values[place] = -abs(value)

    def _take_foreign(self, field: str, values: list[Amount]) -> None:
        """Let the sign of the amount read first name the row's currency, where no column does."""
        currencies = (
            [self.currency] * len(self) if isinstance(self.currency, str) else self.currency
        )
        for place, value in enumerate(values):
            if isinstance(value, Foreign):
                if self.amounts or self.has("currency"):
                    self.fault(place, field, other_currency(value.currency, currencies[place]))
                    values[place] = None
                else:
                    currencies[place] = value.currency
                    values[place] = value.minor
        self.currency = currencies
