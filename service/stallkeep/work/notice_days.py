"""What a seller should know of rows whose days are none of the event they were sent with."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import Final
from uuid import UUID

from stallkeep.store.connection import Connection
from stallkeep_importers.contract import Notice

SHOWN: Final = 5
"""Days that a notice names, at most."""


async def event_names(con: Connection, shop_id: UUID) -> dict[UUID, str]:
    """Read the names of the shop's events."""
    rows = await con.fetch("select id, name from event where shop_id = $1", shop_id)
    return {row["id"]: row["name"] for row in rows}


def day_notices(
    event_id: UUID,
    days: Collection[dt.date],
    events_of_days: Mapping[dt.date, UUID],
    names: Mapping[UUID, str],
) -> list[Notice]:
    """Say which rows went to another event, or to none, because of their day.

    Args:
        event_id: The event that the file was sent with.
        days: Days of its rows.
        events_of_days: Day to the event whose it is.
        names: Names of events.
    """
    elsewhere: dict[UUID | None, list[dt.date]] = defaultdict(list)
    for day in sorted(days):
        if events_of_days.get(day) != event_id:
            elsewhere[events_of_days.get(day)].append(day)
    return [
        Notice(
            code="days-of-another-event",
            text=f"Not on a day of {names[event_id]}: {_listed(found)}. Rows of that day belong to "
            f"{'no event, refunds of its payments apart' if owner is None else names[owner]}.",
        )
        for owner, found in elsewhere.items()
    ]


def _listed(days: Sequence[dt.date]) -> str:
    more = len(days) - SHOWN
    return ", ".join(str(day) for day in days[:SHOWN]) + (f" and {more} more" if more > 0 else "")
