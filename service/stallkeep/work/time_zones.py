"""Time zones by their IANA names."""

from __future__ import annotations

import datetime as dt
from functools import cache
from typing import Final
from zoneinfo import ZoneInfo, available_timezones

from stallkeep.domain.errors import UnknownTimeZoneError

NOWHERE: Final = frozenset({"localtime", "Factory"})
"""Names of the zone database that mean another zone on each machine, or none."""


@cache
def _names() -> frozenset[str]:
    return frozenset(available_timezones()) - NOWHERE


def read_time_zone(name: str) -> ZoneInfo:
    """Find the zone of an IANA name such as "Europe/Lisbon".

    Raises:
        UnknownTimeZoneError: There is none of this name.
    """
    if name not in _names():
        raise UnknownTimeZoneError(
            f"{name[:60]!r} is no time zone; write it like 'Europe/Lisbon'", value=name[:60]
        )
    return ZoneInfo(name)


def on_shops_clock(moment: dt.datetime | None, time_zone: str) -> dt.datetime | None:
    """Tell a moment by the shop's own clock, which questions and reasons speak of."""
    return None if moment is None else moment.astimezone(ZoneInfo(time_zone))
