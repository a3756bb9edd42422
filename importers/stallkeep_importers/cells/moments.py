"""Columns of dates and times → days and moments of the shop."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence

from stallkeep_importers.cells.clocks import LocalClock
from stallkeep_importers.cells.date_columns import DateColumn
from stallkeep_importers.cells.dates import split_moment
from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.cells.money import unwrapped
from stallkeep_importers.cells.times import has_half, time_of

_CACHE_SIZE = 100_000
_ISO_DAY = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}[ T][0-9]{2}:")
_ISO_LENGTHS = (len("2025-05-03T14:22:07"), len("2025-05-03T14:22"))
_NOON = 12
_EARLY = 7
_FEWEST = 3
_SHORTEST_USUAL = len("2025-05-03T14:22")


class MomentColumn:
    """Reads dates with their times of day, from one column or two, and keeps what it has read.

    Args:
        dates: Reader of the days.
        clock: The shop's clock.
        has_times: As below.
        zone: Offset or IANA name of times that have none of their own; "" for the shop's.
        has_halves: Whether times name their half of the day; then one that does not is doubtful.

    Attributes:
        has_times: False when every time of day in the file is midnight: then there is none.
    """

    def __init__(
        self,
        dates: DateColumn,
        clock: LocalClock,
        *,
        has_times: bool = True,
        zone: str = "",
        has_halves: bool = False,
    ) -> None:
        self.has_times = has_times
        self._zone = zone
        self._has_halves = has_halves
        self._dates = dates
        self._clock = clock
        self._times: dict[str, tuple[dt.time, str] | Fault | None] = {}
        self._steady: dict[str, tuple[dt.date, str]] = {}

    def values(
        self,
        cells: Sequence[str],
        times: Sequence[str] | None = None,
        zones: Sequence[str] | None = None,
    ) -> tuple[list[dt.date | Fault | None], list[dt.datetime | None]]:
        """Read cells into days of the shop and moments.

        Args:
            cells: Date cells, perhaps with a time of day.
            times: Cells of a time column, perhaps with an offset.
            zones: Cells of a column of zones or offsets.

        Returns:
            Days (None for an empty cell, a fault where date, time or zone cannot be read) and
            moments (None where there is no time of day).
        """
        self._bound()
        if times is None and zones is None and self.has_times and not self._zone:
            return self._from_one_column(cells)
        pairs = [
            self._read(cell, times[place] if times else "", zones[place] if zones else "")
            for place, cell in enumerate(cells)
        ]
        return [day for day, _ in pairs], [moment for _, moment in pairs]

    def _from_one_column(
        self, cells: Sequence[str]
    ) -> tuple[list[dt.date | Fault | None], list[dt.datetime | None]]:
        """Read date and time of one cell; ISO times on days of a steady offset go the short way."""
        days: list[dt.date | Fault | None] = []
        moments: list[dt.datetime | None] = []
        steady, from_iso = self._steady, dt.datetime.fromisoformat
        for cell in cells:
            known = steady.get(cell[:11])
            if known is not None and len(cell) in _ISO_LENGTHS:
                try:
                    moments.append(from_iso(cell + known[1]))
                except ValueError:
                    pass
                else:
                    days.append(known[0])
                    continue
            day, moment = self._read(cell, "", "")
            days.append(day)
            moments.append(moment)
            if moment is not None and _ISO_DAY.match(cell):
                self._learn(cell)
        return days, moments

    def _learn(self, cell: str) -> None:
        """Keep the offset of an ISO day, if it has one only."""
        day = self._dates.cache[cell[:10]]
        fixed = self._clock.fixed_offset(day) if isinstance(day, dt.date) else None
        if isinstance(day, dt.date) and fixed is not None:
            offset = dt.datetime.combine(day, dt.time.min, fixed).isoformat()[19:]
            self._steady[cell[:11]] = (day, offset)

    def _read(
        self, cell: str, time_cell: str, zone_cell: str
    ) -> tuple[dt.date | Fault | None, dt.datetime | None]:
        date_text, time_text = _parted(cell)
        day = self._dates.cache[date_text]
        if not isinstance(day, dt.date):
            return day, None
        reading = self._time(time_cell or time_text) if self.has_times else None
        if reading is None:
            return day, None
        if isinstance(reading, Fault):
            return reading, None
        time, zone = reading
        return self._moment(day, time, zone or zone_cell.strip() or self._zone)

    def _moment(
        self, day: dt.date, time: dt.time, zone: str
    ) -> tuple[dt.date | Fault, dt.datetime | None]:
        if not zone:
            moment = self._clock.moment(day, time)
            return (moment, None) if isinstance(moment, Fault) else (day, moment)
        moment = self._clock.moment_in(day, time, zone)
        if isinstance(moment, Fault):
            return moment, None
        return self._clock.day_of(moment), moment

    def _time(self, text: str) -> tuple[dt.time, str] | Fault | None:
        try:
            return self._times[text]
        except KeyError:
            value = time_of(text)
            if self._has_halves and isinstance(value, tuple) and 1 <= value[0].hour <= _NOON:
                value = value if has_half(text) else _half_missing(text)
            self._times[text] = value
            return value

    def _bound(self) -> None:
        for kept in (self._times, self._steady):
            if len(kept) > _CACHE_SIZE:
                kept.clear()
        if len(self._dates.cache) > _CACHE_SIZE:
            self._dates.cache.clear()


def _half_missing(text: str) -> Fault:
    return Fault(
        "time-undecided",
        f"“{text[:40]}” may be in the morning or in the afternoon; other rows say which.",
        "Add am or pm and send the row again.",
    )


def time_texts(cells: Iterable[str]) -> list[str]:
    """Give the time part of each date cell."""
    return [_parted(cell)[1] for cell in cells]


def date_texts(cells: Iterable[str]) -> list[str]:
    """Give the date part of each cell."""
    return [_parted(cell)[0] for cell in cells]


def never_past_noon(texts: Iterable[str]) -> bool:
    """Say whether three times or more lie within 1:00 and 12:59, some of them before 7:00."""
    readings = [time_of(text) for text in set(texts) if not has_half(text)]
    hours = [reading[0].hour for reading in readings if isinstance(reading, tuple)]
    is_short = len(hours) >= _FEWEST and all(1 <= hour <= _NOON for hour in hours)
    return is_short and min(hours) < _EARLY


def only_midnights(cells: Iterable[str]) -> bool | None:
    """Say whether every time of day in date cells is midnight; None where there is none."""
    texts = {text for text in (_parted(cell)[1] for cell in cells) if text}
    if not texts:
        return None
    readings = [time_of(text) for text in texts]
    return all(isinstance(reading, tuple) and reading[0] == dt.time.min for reading in readings)


def _parted(cell: str) -> tuple[str, str]:
    """Part date and time; the usual form goes the short way."""
    if len(cell) >= _SHORTEST_USUAL and cell[10] in " T" and cell[13] == ":":
        return cell[:10], cell[11:]
    return split_moment(unwrapped(cell.strip().strip("\ufeff")))
