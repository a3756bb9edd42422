"""Every fee schedule of a shop, to be asked by channel and day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from uuid import UUID

import msgspec

from stallkeep.domain.fees import FeeSchedule
from stallkeep.store import history_facts as store
from stallkeep.store.connection import Connection, Row

NO_FEES = FeeSchedule()


class DatedSchedules:
    """A shop's fee schedules."""

    def __init__(self, rows: Iterable[Row]) -> None:
        """Take rows of channel_id, valid_from and terms, each channel's earliest first."""
        self._of: dict[UUID, list[tuple[dt.date, FeeSchedule]]] = {}
        for row in rows:
            terms = msgspec.convert(row["terms"], FeeSchedule)
            self._of.setdefault(row["channel_id"], []).append((row["valid_from"], terms))

    def on(self, channel_id: UUID, day: dt.date) -> FeeSchedule:
        """Find what a channel charges on a day; no fees where nothing was entered."""
        valid = [terms for start, terms in self._of.get(channel_id, ()) if start <= day]
        return valid[-1] if valid else NO_FEES


async def dated_schedules(con: Connection, shop_id: UUID) -> DatedSchedules:
    """Read every fee schedule of a shop."""
    return DatedSchedules(await store.schedules(con, shop_id))
