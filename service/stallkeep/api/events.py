"""Events: markets, their days, hours, fees and cash boxes."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal
from uuid import UUID

from litestar import Response, delete, get, patch, post
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody, QueryParameter
from msgspec import UNSET, Meta, UnsetType, field

from stallkeep.api.answers import created, versioned
from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.once import Once
from stallkeep.api.pages import DEFAULT_LIMIT, Cursor, Limit, Page, page, read_cursor
from stallkeep.api.schemas import (
    Body,
    Moment,
    Money,
    Note,
    Price,
    Title,
    View,
    Word,
    entered,
    shown,
)
from stallkeep.api.strictness import StrictRequest
from stallkeep.store import events as store
from stallkeep.store.connection import Connection
from stallkeep.work import events as work
from stallkeep.work.versions import Expected

EventState = Literal["planned", "open", "closed"]
Minutes = Annotated[int, Meta(ge=0, le=100_000, description="Minutes")]
Hour = Annotated[dt.time, Meta(tz=False, description="In the shop's zone", examples=["09:30:00"])]


class OwnMinutes(Body):
    """The seller's own time at an event, by what it went into."""

    preparing: Minutes = 0
    travelling: Minutes = 0
    selling: Minutes = 0
    packing: Minutes = 0


class EventDay(View):
    """One day: hours, the day's pitch fee, and the cash box."""

    day: dt.date
    opens_at: dt.time | None
    closes_at: dt.time | None
    pitch_fee: Price
    float: Price | None
    counted_cash: Price | None
    taken_out: Money
    every_cash_sale_noted: bool


class Event(View):
    """A market with its days in order; `pitch_fee` is what is charged for the event as a whole."""

    id: UUID
    channel_id: UUID
    name: str
    venue: str | None
    pitch: str | None
    kind: str | None
    starts_on: dt.date
    ends_on: dt.date
    state: EventState
    pitch_fee: Price
    own_minutes: OwnMinutes
    note: str | None
    days: list[EventDay]
    created_at: Moment


class NewDay(Body):
    """Figures of one day of a new event."""

    day: dt.date
    opens_at: Hour | None = None
    closes_at: Hour | None = None
    pitch_fee: Price | UnsetType = UNSET
    float: Price | None = None


class NewEvent(Body):
    """An event to plan; every day from start to end is there, `days` adds figures to some."""

    channel_id: UUID
    name: Title
    starts_on: dt.date
    ends_on: dt.date
    venue: Title | None = None
    pitch: Word | None = None
    kind: Word | None = None
    state: EventState = "planned"
    pitch_fee: Price | UnsetType = UNSET
    own_minutes: OwnMinutes | UnsetType = UNSET
    note: Note | None = None
    days: Annotated[list[NewDay], Meta(max_length=work.LONGEST_DAYS)] = field(default_factory=list)


class EventChanges(Body):
    """What to change; what is left out stays, null clears."""

    channel_id: UUID | UnsetType = UNSET
    name: Title | UnsetType = UNSET
    starts_on: dt.date | UnsetType = UNSET
    ends_on: dt.date | UnsetType = UNSET
    venue: Title | UnsetType | None = UNSET
    pitch: Word | UnsetType | None = UNSET
    kind: Word | UnsetType | None = UNSET
    state: EventState | UnsetType = UNSET
    pitch_fee: Price | UnsetType = UNSET
    own_minutes: OwnMinutes | UnsetType = UNSET
    note: Note | UnsetType | None = UNSET


class DayChanges(Body):
    """What to change of a day; what is left out stays, null clears."""

    opens_at: Hour | UnsetType | None = UNSET
    closes_at: Hour | UnsetType | None = UNSET
    pitch_fee: Price | UnsetType = UNSET
    float: Price | UnsetType | None = UNSET
    counted_cash: Price | UnsetType | None = UNSET
    taken_out: Money | UnsetType = UNSET
    every_cash_sale_noted: bool | UnsetType = UNSET


def _view(whole: work.WholeEvent, caller: Caller) -> Event:
    currency = caller.shop.currency
    minutes = OwnMinutes(**whole.event.own_minutes)
    days = [shown(EventDay, day, currency) for day in whole.days]
    return shown(Event, whole.event, currency, own_minutes=minutes, days=days)


def _answer(whole: work.WholeEvent, caller: Caller) -> Response[Event]:
    return versioned(_view(whole, caller), whole.event.version)


def _values(data: NewEvent | EventChanges, caller: Caller) -> dict[str, Any]:
    values = entered(data, caller.shop.currency)
    values.pop("days", None)
    if isinstance(minutes := values.get("own_minutes"), OwnMinutes):
        values["own_minutes"] = {name: getattr(minutes, name) for name in minutes.__struct_fields__}
    return values


@get("/v1/events", operation_id="listEvents", tags=["events"], opt=FOR_HELPERS)
async def list_events(
    request: StrictRequest,
    caller: NamedDependency[Caller],
    channel: Annotated[UUID | None, QueryParameter(description="Id of a channel")] = None,
    in_state: Annotated[EventState | None, QueryParameter(name="state")] = None,
    limit: Limit = DEFAULT_LIMIT,
    cursor: Cursor = None,
) -> Response[Page[Event]]:
    """List the events, the latest first."""
    after = read_cursor(cursor, tuple[dt.date, UUID])
    filters = {"channel_id": channel, "state": in_state}
    shop_id = caller.shop.shop_id
    async with caller.read_scope() as con:
        rows = await store.list_events(con, shop_id, filters, after=after, limit=limit)
        days = await store.days_of(con, shop_id, [row.id for row in rows])
    return page(
        request,
        rows,
        limit,
        lambda row: _view(work.WholeEvent(row, days[row.id]), caller),
        lambda row: (row.starts_on, row.id),
    )


@get("/v1/events/{event_id:uuid}", operation_id="readEvent", tags=["events"], opt=FOR_HELPERS)
async def read_event(event_id: FromPath[UUID], caller: NamedDependency[Caller]) -> Response[Event]:
    """Read one event."""
    async with caller.read_scope() as con:
        return _answer(await work.read_event(con, caller.shop.shop_id, event_id), caller)


@post("/v1/events", operation_id="addEvent", tags=["events"])
async def add_event(
    data: JSONBody[NewEvent], caller: NamedDependency[Caller], once: NamedDependency[Once]
) -> Response[Event]:
    """Plan an event."""
    currency = caller.shop.currency
    values = _values(data, caller)
    days = [entered(day, currency, at=("days", n)) for n, day in enumerate(data.days)]

    async def do(con: Connection) -> Response[Event]:
        whole = await work.add_event(con, caller.shop.shop_id, values, days)
        path = f"/v1/events/{whole.event.id}"
        return created(_view(whole, caller), path, whole.event.version)

    return await once(do)


@patch("/v1/events/{event_id:uuid}", operation_id="changeEvent", tags=["events"])
async def change_event(
    event_id: FromPath[UUID],
    data: JSONBody[EventChanges],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> Response[Event]:
    """Change an event; with other dates, days come and empty ones go."""
    values = _values(data, caller)
    async with caller.scope() as con:
        whole = await work.change_event(con, caller.shop.shop_id, event_id, values, expected)
    return _answer(whole, caller)


@patch(
    "/v1/events/{event_id:uuid}/days/{day:date}",
    operation_id="changeEventDay",
    tags=["events"],
    opt=FOR_HELPERS,
)
async def change_day(
    event_id: FromPath[UUID],
    day: FromPath[dt.date],
    data: JSONBody[DayChanges],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> Response[Event]:
    """Enter hours, float, counted cash and the like of one day; If-Match is the event's."""
    values = entered(data, caller.shop.currency)
    async with caller.scope() as con:
        whole = await work.change_day(con, caller.shop.shop_id, event_id, day, values, expected)
    return _answer(whole, caller)


@delete("/v1/events/{event_id:uuid}", operation_id="removeEvent", tags=["events"])
async def remove_event(
    event_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> None:
    """Remove an event at which nothing was sold or spent, with its days, rail and stubs."""
    async with caller.scope() as con:
        await work.remove_event(con, caller.shop.shop_id, event_id, expected)


ROUTES = (
    list_events,
    read_event,
    add_event,
    change_event,
    change_day,
    remove_event,
)
