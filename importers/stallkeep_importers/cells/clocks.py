"""A local time → a moment: clock changes are asked about or rejected, never passed over."""

from __future__ import annotations

import datetime as dt
from typing import Literal
from zoneinfo import ZoneInfo

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.cells.times import fixed_zone
from stallkeep_importers.contract import Choice, QuestionError

# German names of zones that IANA names in English. Source: common practice, no source.
_ALSO = {
    "MEZ": "CET",
    "MESZ": "CEST",
    "OEZ": "EET",
    "OESZ": "EEST",
    "WEZ": "WET",
    "WESZ": "WEST",
}


class LocalClock:
    """The clock of one IANA zone.

    Args:
        zone: IANA name.
        choice: Which of two equal local times is meant, if anybody has said.
    """

    def __init__(self, zone: str, choice: Literal["earlier", "later"] | None) -> None:
        self._zone = ZoneInfo(zone)
        self._name = zone
        self._choice = choice
        self._offsets: dict[dt.date, dt.timezone | None] = {}
        self._others: dict[str, LocalClock | None] = {}

    def fixed_offset(self, day: dt.date) -> dt.timezone | None:
        """Give the offset of a whole day, None on the day of a clock change."""
        if day not in self._offsets:
            first = dt.datetime.combine(day, dt.time.min, self._zone).utcoffset()
            last = dt.datetime.combine(day, dt.time.max, self._zone).utcoffset()
            steady = first is not None and first == last
            self._offsets[day] = dt.timezone(first) if steady and first is not None else None
        return self._offsets[day]

    def moment(self, day: dt.date, time: dt.time) -> dt.datetime | Fault:
        """Give a local time its offset.

        Raises:
            QuestionError: The time comes twice and nobody has said which one is meant.
        """
        fixed = self.fixed_offset(day)
        if fixed is not None:
            return dt.datetime.combine(day, time, fixed)
        before, after = self._both(day, time)
        if before < after:
            return Fault(
                "time-never-was",
                f"{day} {time:%H:%M} never was in {self._name}: the clocks went forward.",
                "Correct the time and send the row again.",
            )
        if before > after and self._choice is None:
            raise self._question(day, time, before, after)
        offset = after if self._choice == "later" else before
        return dt.datetime.combine(day, time, dt.timezone(offset))

    def moment_in(self, day: dt.date, time: dt.time, zone: str) -> dt.datetime | Fault:
        """Give a time the offset that *zone* names: an offset, an IANA name or "CEST"."""
        fixed = fixed_zone(zone)
        if fixed is not None:
            return dt.datetime.combine(day, time, fixed)
        if "/" in zone:
            other = self._other(zone)
            return other.moment(day, time) if other else _unknown(zone)
        local = dt.datetime.combine(day, time, self._zone)
        for fold in (0, 1):
            folded = local.replace(fold=fold)
            offset = folded.utcoffset()
            name = _ALSO.get(zone.upper(), zone.upper())
            if offset is not None and (folded.tzname() or "").upper() == name:
                return dt.datetime.combine(day, time, dt.timezone(offset))
        return _unknown(zone)

    def day_of(self, moment: dt.datetime) -> dt.date:
        """Give this clock's date of a moment."""
        return moment.astimezone(self._zone).date()

    def _both(self, day: dt.date, time: dt.time) -> tuple[dt.timedelta, dt.timedelta]:
        local = dt.datetime.combine(day, time, self._zone)
        before, after = (local.replace(fold=fold).utcoffset() or dt.timedelta() for fold in (0, 1))
        return before, after

    def _other(self, zone: str) -> LocalClock | None:
        if zone not in self._others:
            try:
                self._others[zone] = LocalClock(zone, self._choice)
            except (KeyError, ValueError, OSError):  # no such zone, or a path that is none
                self._others[zone] = None
        return self._others[zone]

    def _question(
        self, day: dt.date, time: dt.time, before: dt.timedelta, after: dt.timedelta
    ) -> QuestionError:
        meanings = (("earlier", before), ("later", after))
        return QuestionError(
            "clock-change-undecided",
            f"{day} {time:%H:%M} came twice in {self._name}: the clocks went back.",
            "Say whether times in the doubled hour are the earlier or the later ones.",
            parameter="clock_change",
            choices=tuple(
                Choice(
                    value=value,
                    meaning=dt.datetime.combine(day, time, dt.timezone(offset)).isoformat(),
                )
                for value, offset in meanings
            ),
            facts={"values": [f"{day} {time:%H:%M}"]},
        )


def _unknown(zone: str) -> Fault:
    return Fault(
        "zone-unknown",
        f"We cannot tell which time zone “{zone[:40]}” is.",
        "Write the time with its offset, such as +02:00.",
    )
