"""One table being imported: what its columns are, and how each is read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from msgspec.structs import replace

from stallkeep_importers.cells.cell_tests import has_decimals, is_date, share
from stallkeep_importers.cells.clocks import LocalClock
from stallkeep_importers.cells.date_columns import DateColumn
from stallkeep_importers.cells.dates import Order
from stallkeep_importers.cells.moments import MomentColumn, never_past_noon, time_texts
from stallkeep_importers.cells.money import Mark
from stallkeep_importers.cells.money_columns import MoneyColumn, ask_mark
from stallkeep_importers.cells.personal import kind_by_cells, kind_by_heading
from stallkeep_importers.contract import Layout, MappedColumn, Options
from stallkeep_importers.rows.columns import map_columns
from stallkeep_importers.rows.evidence import Evidence
from stallkeep_importers.rows.fields import DATE_FIELDS
from stallkeep_importers.rows.file_facts import file_currency, file_zone
from stallkeep_importers.rows.flags import denials_of, flags_of
from stallkeep_importers.rows.further_parts import maybe_further, named_further
from stallkeep_importers.rows.profiles import Profile
from stallkeep_importers.rows.row_ids import is_damaged, why_no_id
from stallkeep_importers.rows.states import state_of
from stallkeep_importers.tables.table import Table, fitted_row

_SURENESS = {"heading": 0.97, "cells": 0.9, "sums": 0.9}
_MOSTLY = 0.8
_FREE_TEXT = frozenset({"note", "title", "category", "supplier"})


class Sheet:
    """A table with the meaning of its columns settled.

    Attributes:
        table: What is read.
        options: The shop's facts and answers.
        columns: Every column and what it was taken for.
        places: Canonical field to place in the row.
        personal: Places of columns dropped at the door.
        more: Place and heading of columns kept as text.
        further: Field to the names of further columns that are added to it.
        maybe_further: The same, not yet decided: field to names and their places in the row.
        unused_money: Headings of columns that hold amounts and are not used.
        flags: Columns of yes and no whose yes changes what a row is.
        denials: Likewise those whose no does: "Paid", "Shipped", "Live".
        currency: ISO code of amounts that do not say.
        clock: The shop's clock.
        day_field: The field that says when a row happened, None where the file does not say.
        moments: Reader of that field with its time of day.
        notices: Sentences about what was assumed.
        settled: Option to value, as the file's own rows settled it.
        tally: Things counted on the way that the seller should know.
        damaged: Fields of ids that a spreadsheet has damaged.
    """

    def __init__(self, table: Table, profile: Profile, options: Options) -> None:
        self.table = table
        self.options = options
        self.notices: list[str] = []
        if table.survey and table.survey.notice:
            self.notices.append(table.survey.notice)
        if table.is_twice_encoded:
            self.notices.append(
                "Some letters look garbled: the file seems to have been turned into UTF-8 twice."
            )
        self.tally: Counter[str] = Counter()
        self.settled: dict[str, str] = {}
        self._says_completed: bool | None = None
        mapped = map_columns(table.headings, table.sample, profile, options)
        self.columns = tuple(_personal_dropped(column, table) for column in mapped)
        self._drop_false_id()
        self.personal = frozenset(column.index for column in self.columns if column.personal)
        self.places = {
            column.field: column.index
            for column in self.columns
            if column.field and not column.personal
        }
        self.more = _named(
            column for column in self.columns if not column.field and not column.personal
        )
        self.flags = flags_of(self.columns, table.headings, table.sample, profile.states)
        self.denials = denials_of(self.columns, table.headings, table.sample, profile.states)
        self._find_unused_money()
        self._fields = frozenset(profile.fields)
        self.further = named_further(self.places)
        self.maybe_further = maybe_further(self, self._fields, self._unused)
        for names in self.maybe_further.values():
            self.places.update(names)
        self.damaged = frozenset(
            field
            for field in ("external_id", "related_id", "payout_id")
            if field in self.places
            and is_damaged({row[self.places[field]].strip() for row in table.sample} - {""})
        )
        self.day_field = next((field for field in profile.day_fields if field in self.places), None)
        self.clock = LocalClock(options.time_zone, options.clock_change)
        self.currency = file_currency(table, self.places, options)
        if self.currency != options.currency:
            self.notices.append(f"The amounts are in {self.currency}.")
        self.decimal_mark: Mark | None = None
        self.date_order: Order | None = None
        self._money: dict[str, MoneyColumn] = {}
        self._dates: dict[str, DateColumn] = {}
        self.moments: MomentColumn | None = None
        self._settle()

    @property
    def says_completed(self) -> bool:
        """Whether the sample's column of states says of any row that it is completed."""
        if self._says_completed is None:
            place = self.places.get("state")
            cells = set() if place is None else {row[place] for row in self.table.sample}
            self._says_completed = "completed" in map(state_of, cells)
        return self._says_completed

    def header_of(self, field: str) -> str:
        """Give the heading of a field's column, the field's own name without one."""
        place = self.places.get(field)
        return field if place is None else self.table.headings[place].text

    def uses(self, field: str) -> bool:
        """Say whether the importer has a use for a field."""
        return field in self._fields

    def money(self, field: str) -> MoneyColumn:
        """Give the reader of a field of money."""
        return self._money[field]

    def date(self, field: str) -> DateColumn:
        """Give the reader of a field that holds days."""
        return self._dates[field]

    def layout(self) -> Layout:
        """Say how the file was read."""
        facts = self.table.survey
        settled = {"decimal_mark": self.decimal_mark, "date_order": self.date_order}
        self.settled.update({name: value for name, value in settled.items() if value})
        if "currency" not in self.places:
            self.settled["file_currency"] = self.currency
        return Layout(
            fingerprint=self.table.fingerprint,
            encoding=facts.codec if facts else "",
            delimiter=self.table.dialect.delimiter,
            header_record=self.table.header_record,
            columns=self.columns,
            decimal_mark=self.decimal_mark,
            date_order=self.date_order,
            notices=(*self._unused_notice(), *self.notices),
            lines=facts.lines if facts else None,
            currency=None if "currency" in self.places else self.currency,
            settled=dict(self.settled),
        )

    def _drop_false_id(self) -> None:
        """Use no column as the rows' id that cannot be it, unless a person said it is."""
        places = {column.field: column.index for column in self.columns if column.field}
        if "external_id" not in places or "external_id" in self.options.columns:
            return
        why = why_no_id(self.table.sample, places)
        if why:
            place = places["external_id"]
            header = self.table.headings[place].text
            self.columns = tuple(
                replace(column, field=None, sureness=0, why=f"no id of the rows: {why}")
                if column.index == place
                else column
                for column in self.columns
            )
            self.notices.append(
                f"The column “{header}” was not taken as the rows' id: {why}. They are known by "
                "their content instead."
            )

    def use(self, field: str, name: str, why: str) -> None:
        """Take a column that was only looked at, under *name*, for a field."""
        place, before = self.places.pop(name), self.places.get(field)
        self.places[field] = place
        self._money[field] = self._money.pop(name)
        self.columns = tuple(
            replace(column, field=field, sureness=_SURENESS["sums"], why=why)
            if column.index == place
            else replace(column, field=None, sureness=0, why="not used")
            if column.index == before
            else column
            for column in self.columns
        )
        self.more = _named(
            column for column in self.columns if not column.field and not column.personal
        )
        self._find_unused_money()

    def _find_unused_money(self) -> None:
        """Find which columns hold amounts and are not used."""
        found = {
            place: name
            for place, name in self.more
            if share(_is_amount, [row[place] for row in self.table.sample]) >= _MOSTLY
        }
        self._unused = frozenset(found)
        self.unused_money = list(found.values())

    def _unused_notice(self) -> list[str]:
        if not self.unused_money:
            return []
        names = ", ".join(f"“{name}”" for name in self.unused_money)
        return [f"Columns that seem to hold amounts and were not used: {names}."]

    def _settle(self) -> None:
        """Decide decimal marks, order of dates and whether there are times of day."""
        evidence = Evidence(
            self.places,
            self.day_field,
            self.currency,
            self.options,
            says_minor=any(found.in_minor for found in self.table.headings),
        )
        evidence.add(self.table.sample)
        if not self.table.is_whole:
            for rows in self.rows() if evidence.is_open else ():
                evidence.add(rows)
                if not evidence.is_open:
                    break
        self._settle_money(evidence)
        self._settle_dates(evidence)

    def _settle_money(self, evidence: Evidence) -> None:
        answered = self.options.decimal_mark
        in_minor = evidence.unit(self.header_of) == "minor"
        if self.options.amounts_are:
            self.settled["amounts_are"] = self.options.amounts_are
        own = {field: found.mark for field, found in evidence.marks.items()}
        agreed = {mark for mark in own.values() if mark}
        for field, found in evidence.marks.items():
            mark: Mark | None = answered or own[field]
            if mark is None and len(agreed) == 1:
                mark = next(iter(agreed))
            if mark is None and not found.ambiguous:
                mark = found.commonest
            if mark is None and found.ambiguous:
                both = all(found.decisive.values())
                raise ask_mark(self.header_of(field), found.ambiguous, self.currency, both=both)
            heading = self.table.headings[self.places[field]]
            self._money[field] = MoneyColumn(
                heading.text,
                mark,
                answered=answered is not None,
                in_minor=in_minor or heading.in_minor,
            )
            self.decimal_mark = self.decimal_mark or mark

    def _settle_dates(self, evidence: Evidence) -> None:
        answered = self.options.date_order
        orders = evidence.orders.orders
        order = answered or (orders[0] if len(orders) == 1 else None)
        fields = [field for field in self.places if field in DATE_FIELDS]
        if fields and order is None and evidence.orders.is_needed:
            raise evidence.orders.question(self.header_of(fields[0]))
        for field in fields:
            self._dates[field] = DateColumn(
                self.header_of(field), order, answered=answered is not None
            )
        if self.day_field:
            has_times = "time" in self.places or not evidence.midnights
            zone = file_zone(self.table, self.places, self.day_field)
            self.moments = MomentColumn(
                self._dates[self.day_field],
                self.clock,
                has_times=has_times,
                zone=zone,
                has_halves=evidence.has_halves,
            )
            if zone and has_times:
                self.notices.append(f"Times without an offset are read in {zone}.")
            if has_times and never_past_noon(self._time_texts()):
                self.notices.append(
                    "No time of day is past 12:59, and some are before 7:00: they may be "
                    "twelve-hour times without am and pm; they were read as they stand."
                )
            if not has_times:
                self.notices.append("Every time of day is midnight, so the file has only dates.")
        if evidence.orders.has_points and fields:
            self.notices.append("Dates written with points are read with the day first.")
        self.date_order = order or ("dmy" if evidence.orders.has_points else None)

    def _time_texts(self) -> list[str]:
        """Give the sample's times of day."""
        place = self.places.get("time")
        if place is not None:
            return [row[place] for row in self.table.sample]
        return time_texts(row[self.places[self.day_field or ""]] for row in self.table.sample)

    def rows(self) -> Iterator[list[list[str]]]:
        """Give all full rows below the header, in batches: a pass over the whole file."""
        table = self.table
        with table.batches() as batches:
            for batch in batches:
                skip = max(0, table.header_record - batch.first_record + 1)
                fitted = (fitted_row(row, table.width) for row in batch.rows[skip:])
                yield [row for row in fitted if row]


def _is_amount(cell: str) -> bool:
    return has_decimals(cell) and not is_date(cell)


def _named(columns: Iterable[MappedColumn]) -> tuple[tuple[int, str], ...]:
    """Name columns kept as text by heading; blank and doubled ones by their number too."""
    names: dict[str, int] = {}
    for column in columns:
        number = f"#{column.index + 1}"
        name = column.header or number
        names[name if name not in names else f"{name} {number}"] = column.index
    return tuple((index, name) for name, index in names.items())


def _personal_dropped(column: MappedColumn, table: Table) -> MappedColumn:
    """Mark a column that holds personal data; no confirmation brings it back."""
    found = table.headings[column.index]
    cells = [row[column.index] for row in table.sample]
    is_id = column.field is not None and column.field not in _FREE_TEXT
    kind = None if column.field else kind_by_heading(found.plain, cells)
    why = "heading" if kind else "cells"
    kind = kind or kind_by_cells(cells, is_id=is_id)
    if kind is None:
        return column
    return MappedColumn(
        index=column.index,
        header=column.header,
        field=None,
        sureness=_SURENESS[why],
        why=f"personal data ({kind}) by its {why}",
        personal=True,
    )
