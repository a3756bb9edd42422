"""Keep the events: plan one, change it, enter a day's figures."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from uuid import UUID

import msgspec

from stallkeep.domain.errors import RejectedInputError
from stallkeep.store import events
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.store.transactions import detach_from_event
from stallkeep.store.turns import trips_turn
from stallkeep.work.costs import follow_event
from stallkeep.work.existing_event import existing_event
from stallkeep.work.references import need_channel
from stallkeep.work.stock_errors import DayHasFiguresError, DayNotFoundError, NoStallError
from stallkeep.work.versions import Expected

LONGEST_DAYS = 62


class WholeEvent(msgspec.Struct, frozen=True):
    """An event with its days in order."""

    event: events.Event
    days: list[events.EventDay]


async def read_event(con: Connection, shop_id: UUID, event_id: UUID) -> WholeEvent:
    """Read one event with its days.

    Raises:
        EventNotFoundError: The shop has none with this id.
    """
    event = await existing_event(con, shop_id, event_id)
    return await _whole(con, shop_id, event)


async def add_event(
    con: Connection,
    shop_id: UUID,
    values: Mapping[str, Any],
    days: Iterable[Mapping[str, Any]],
) -> WholeEvent:
    """Plan an event. Every day from start to end is there; *days* only adds figures to some.

    Raises:
        UnknownReferenceError: The shop has no such channel.
        NoStallError: The channel is an online one.
        RejectedInputError: It ends before it starts, is too long, or a day lies outside.
    """
    await _need_stall(con, shop_id, values["channel_id"])
    wanted = _days_between(values["starts_on"], values["ends_on"])
    given = {day["day"]: day for day in days}
    if outside := sorted(given.keys() - set(wanted)):
        raise RejectedInputError(f"{outside[0]} is no day of the event", day=outside[0])
    event = await events.add_event(con, {**values, "shop_id": shop_id, "id": new_id()})
    for day in wanted:
        own = {"shop_id": shop_id, "event_id": event.id, "day": day}
        await events.add_day(con, {**given.get(day, {}), **own})
    return await _whole(con, shop_id, event)


async def change_event(
    con: Connection,
    shop_id: UUID,
    event_id: UUID,
    values: Mapping[str, Any],
    expected: Expected,
) -> WholeEvent:
    """Change the columns named in *values*; with other dates, days come and empty ones go.

    Raises:
        EventNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
        DayHasFiguresError: A day that would go has money entered.
        UnknownReferenceError: The shop has no such channel.
        NoStallError: The channel is an online one.
    """
    moves = bool({"starts_on", "ends_on"} & values.keys())
    if moves:
        await trips_turn(con, shop_id)
    event = await existing_event(con, shop_id, event_id, lock=True)
    expected.check(event.version)
    if "channel_id" in values:
        await _need_stall(con, shop_id, values["channel_id"])
    wanted = _days_between(
        values.get("starts_on", event.starts_on), values.get("ends_on", event.ends_on)
    )
    changed = await events.change_event(con, shop_id, event_id, values)
    await _set_days(con, shop_id, event_id, wanted)
    await detach_from_event(con, shop_id, event_id)
    if moves:
        await follow_event(con, shop_id, event_id)
    return await _whole(con, shop_id, changed)


async def change_day(  # noqa: PLR0917 - the day is named by three of them
    con: Connection,
    shop_id: UUID,
    event_id: UUID,
    day: dt.date,
    values: Mapping[str, Any],
    expected: Expected,
) -> WholeEvent:
    """Enter hours, float, counted cash and the like of one day; the event's version counts up.

    Raises:
        EventNotFoundError: The shop has none with this id.
        DayNotFoundError: The event has no such day.
        StaleVersionError: The event has changed since it was read.
    """
    event = await existing_event(con, shop_id, event_id, lock=True)
    expected.check(event.version)
    stored = (await events.days_of(con, shop_id, [event_id]))[event_id]
    if day not in {one.day for one in stored}:
        raise DayNotFoundError(f"{day} is no day of the event")
    if values:
        await events.change_day(con, shop_id, event_id, day, values)
    return await _whole(con, shop_id, await events.change_event(con, shop_id, event_id, {}))


async def remove_event(con: Connection, shop_id: UUID, event_id: UUID, expected: Expected) -> None:
    """Remove an event with its days, rail and stubs.

    Raises:
        EventNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
        InUseError: Sales, costs, imports or payments refer to it.
    """
    event = await existing_event(con, shop_id, event_id, lock=True)
    expected.check(event.version)
    await events.remove_event(con, shop_id, event_id)


async def _need_stall(con: Connection, shop_id: UUID, channel_id: UUID) -> None:
    channel = await need_channel(con, shop_id, channel_id)
    if channel.kind == "online":
        raise NoStallError(
            f"{channel.name} is an online channel, and an event is held where people meet: name a "
            "channel of the kind stall (or direct)"
        )


def _days_between(first: dt.date, last: dt.date) -> list[dt.date]:
    count = (last - first).days + 1
    if not 1 <= count <= LONGEST_DAYS:
        raise RejectedInputError(
            f"An event has 1 to {LONGEST_DAYS} days, and ends on or after the day it starts",
            starts_on=first,
            ends_on=last,
        )
    return [first + dt.timedelta(days=n) for n in range(count)]


async def _set_days(
    con: Connection, shop_id: UUID, event_id: UUID, wanted: Sequence[dt.date]
) -> None:
    stored = (await events.days_of(con, shop_id, [event_id]))[event_id]
    for day in stored:
        if day.day not in wanted:
            if day.has_figures:
                raise DayHasFiguresError(
                    f"{day.day} would go, and has money entered: clear its float, counted cash, "
                    "money taken out and pitch fee first, or keep the day",
                    day=day.day,
                )
            await events.remove_day(con, shop_id, event_id, day.day)
    for date in sorted(set(wanted) - {day.day for day in stored}):
        own = {"shop_id": shop_id, "event_id": event_id, "day": date}
        await events.add_day(con, own)


async def _whole(con: Connection, shop_id: UUID, event: events.Event) -> WholeEvent:
    return WholeEvent(event, (await events.days_of(con, shop_id, [event.id]))[event.id])
