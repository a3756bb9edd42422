"""Events and their days."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Final
from uuid import UUID

import msgspec
from sqlalchemy import ARRAY, Date, Uuid, any_, bindparam, select

from stallkeep.store.connection import Connection
from stallkeep.store.lists import KeysetList
from stallkeep.store.query import Query
from stallkeep.store.rows import Rows
from stallkeep.store.statements import Writer, add_row, columns_of, here
from stallkeep.store.tables import EVENT_STATES, event, event_day


class Event(msgspec.Struct, frozen=True, gc=False):
    """A market. Days and money of each day stand in `EventDay`."""

    id: UUID
    channel_id: UUID
    name: str
    venue: str | None
    pitch: str | None
    kind: str | None
    starts_on: dt.date
    ends_on: dt.date
    state: str
    pitch_fee_minor: int
    own_minutes: dict[str, int]
    note: str | None
    created_at: dt.datetime
    version: int


class EventDay(msgspec.Struct, frozen=True, gc=False):
    """One day: hours in the shop's zone, the day's pitch fee and cash box in minor units."""

    event_id: UUID
    day: dt.date
    opens_at: dt.time | None
    closes_at: dt.time | None
    pitch_fee_minor: int
    float_minor: int | None
    counted_cash_minor: int | None
    taken_out_minor: int
    every_cash_sale_noted: bool

    @property
    def has_figures(self) -> bool:
        """Whether anything was entered that would be lost with the day."""
        return (
            any((self.pitch_fee_minor, self.taken_out_minor))
            or self.float_minor is not None
            or self.counted_cash_minor is not None
        )


_DAYS: Final = Query(
    select(*columns_of(event_day, EventDay))
    .where(
        here(event_day),
        event_day.c.event_id == any_(bindparam("event_ids", type_=ARRAY(Uuid()))),
    )
    .order_by(event_day.c.event_id, event_day.c.day),
    EventDay,
)
_THIS_DAY: Final = (
    here(event_day)
    & (event_day.c.event_id == bindparam("event_id"))
    & (event_day.c.day == bindparam("day", type_=Date()))
)
_ADD_DAY: Final = add_row(event_day, EventDay)
_REMOVE_DAY: Final = Query(event_day.delete().where(_THIS_DAY))
_CHANGE_DAY: Final = Writer(
    lambda columns: (
        event_day.update()
        .where(_THIS_DAY)
        .values({name: bindparam(f"new_{name}") for name in sorted(columns)})
        .returning(*columns_of(event_day, EventDay))
    ),
    EventDay,
)

_EVENTS: Final = Rows(event, Event)
find_event = _EVENTS.find
lock_event = _EVENTS.lock
add_event = _EVENTS.add
change_event = _EVENTS.change
remove_event = _EVENTS.remove
"""Only an event that nothing refers to; its days, rail and stubs go with it."""

_LIST: Final = KeysetList(
    event,
    Event,
    (event.c.starts_on, event.c.id),
    {
        "channel_id": event.c.channel_id == bindparam("channel_id"),
        "state": {word: event.c.state == word for word in EVENT_STATES},
    },
)
list_events = _LIST.read
"""Read the latest events first; filters are channel_id and state."""


async def days_of(
    con: Connection, shop_id: UUID, event_ids: Sequence[UUID]
) -> dict[UUID, list[EventDay]]:
    """Read the days of these events, each event's in order."""
    found: dict[UUID, list[EventDay]] = {event_id: [] for event_id in event_ids}
    for day in await _DAYS.all(con, shop_id=shop_id, event_ids=list(event_ids)):
        found[day.event_id].append(day)
    return found


async def add_day(con: Connection, values: Mapping[str, object]) -> EventDay:
    """Write a day of an event."""
    return await _ADD_DAY.one(con, values)


async def change_day(
    con: Connection, shop_id: UUID, event_id: UUID, day: dt.date, values: Mapping[str, object]
) -> EventDay:
    """Change the columns named in *values*, at least one, of one day."""
    return await _CHANGE_DAY.one(con, values, shop_id=shop_id, event_id=event_id, day=day)


async def remove_day(con: Connection, shop_id: UUID, event_id: UUID, day: dt.date) -> None:
    """Delete a day of an event."""
    await _REMOVE_DAY.execute(con, shop_id=shop_id, event_id=event_id, day=day)
