"""A column of dates → days: the order of day and month is decided for all cells, never for one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence

from stallkeep_importers.cells.dates import (
    FIRST_YEAR,
    LAST_YEAR,
    ORDERS,
    POINTS,
    Order,
    date_readings,
    split_moment,
)
from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.cells.money import unwrapped
from stallkeep_importers.contract import Choice, QuestionError

_SPAN_TOO_WIDE = 3 * 366


class OrderEvidence:
    """What a column's dates say about the order of day and month.

    Attributes:
        has_points: Whether any date is read day first because it is written with points.
    """

    def __init__(self) -> None:
        self._fitting: dict[Order, list[dt.date]] = {order: [] for order in ORDERS}
        self._texts: dict[str, dict[Order, dt.date]] = {}
        self.has_points = False

    def add(self, texts: Iterable[str]) -> None:
        """Weigh more dates."""
        for text in set(texts) - self._texts.keys():
            readings = date_readings(text)
            if isinstance(readings, dt.date) and POINTS.fullmatch(text):
                self.has_points = True
            if isinstance(readings, dict) and readings:
                self._texts[text] = readings
                for order, date in readings.items():
                    self._fitting[order].append(date)

    @property
    def is_needed(self) -> bool:
        """Whether any date can be read in two ways that differ, or no order fits all of them."""
        if self._texts and not self.orders:
            return True
        return any(len(set(readings.values())) > 1 for readings in self._texts.values())

    @property
    def orders(self) -> list[Order]:
        """The orders under which every date can be read, absurd spans left out."""
        fitting = [order for order in ORDERS if len(self._fitting[order]) == len(self._texts)]
        spans = {order: _span(self._fitting[order]) for order in fitting}
        narrow = min(spans.values(), default=0) <= _SPAN_TOO_WIDE
        return [order for order in fitting if not narrow or spans[order] <= _SPAN_TOO_WIDE]

    def question(self, column: str) -> QuestionError:
        """Ask for the order, showing two dates each way."""
        shown = sorted(self._texts, key=lambda text: -len(set(self._texts[text].values())))[:2]
        orders = self.orders or [order for order in ORDERS if self._fitting[order]]
        choices = tuple(
            Choice(
                value=order,
                meaning="; ".join(
                    f"{text} is {_shown(self._texts[text].get(order))}" for text in shown
                ),
            )
            for order in orders
        )
        return QuestionError(
            "date-order-undecided",
            f"The dates in the column “{column}” can be read in {len(choices)} ways, "
            "and the file does not say which one is meant.",
            "Say whether the day, the month or the year comes first.",
            parameter="date_order",
            choices=choices,
            facts={"column": column, "values": shown},
        )


class DateColumn:
    """Reads one column's dates and keeps what it has read."""

    def __init__(self, header: str, order: Order | None, *, answered: bool = False) -> None:
        self.header = header
        self._order = order
        self._answered = answered
        self._seen: list[str] = []
        self.cache: dict[str, dt.date | Fault | None] = _Dates(self.read)

    def read(self, text: str) -> dt.date | Fault | None:
        """Read one date; an empty cell is None."""
        if not text.strip():
            return None
        readings = date_readings(text)
        if isinstance(readings, dt.date):
            return readings
        if readings is None:
            return Fault(
                "date-unreadable", f"“{text[:40]}” is no date.", "Correct it and send it again."
            )
        found = set(readings.values())
        if len(found) == 1 and (self._order is None or self._order in readings):
            return found.pop()
        if self._order in readings:
            return readings[self._order]
        if readings and self._order and not self._answered:
            evidence = OrderEvidence()
            evidence.add([text, *self._seen])
            raise evidence.question(self.header)
        return Fault(
            "date-impossible",
            f"There is no such day as “{text[:40]}” in the years {FIRST_YEAR} to {LAST_YEAR}.",
            "Correct it and send the row again.",
        )

    def of_moment(self, cell: str) -> dt.date | Fault | None:
        """Read the date of a cell that may hold a time of day too."""
        if cell in self.cache:
            return self.cache[cell]
        value = self.cache[cell] = self.read(split_moment(unwrapped(cell))[0])
        return value


class _Dates(dict[str, dt.date | Fault | None]):
    def __init__(self, read: Callable[[str], dt.date | Fault | None]) -> None:
        super().__init__()
        self._read = read

    def __missing__(self, text: str) -> dt.date | Fault | None:
        value: dt.date | Fault | None = self._read(text)
        self[text] = value
        return value


def _span(dates: Sequence[dt.date]) -> int:
    return (max(dates) - min(dates)).days if dates else 0


def _shown(date: dt.date | None) -> str:
    return f"{date.day} {date:%B %Y}" if date else "no date"
