"""Costs: of an event, shared by several, or of the shop in general."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal
from uuid import UUID

import msgspec
from litestar import Response, delete, get, patch, post
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody, QueryParameter
from msgspec import UNSET, Meta, UnsetType

from stallkeep.api.answers import created, versioned
from stallkeep.api.auth import Caller
from stallkeep.api.once import Once
from stallkeep.api.pages import DEFAULT_LIMIT, Cursor, Limit, Page, page, read_cursor
from stallkeep.api.schemas import Body, Moment, Money, Note, View, entered, shown
from stallkeep.api.strictness import StrictRequest
from stallkeep.api.trips import Trip, TripBody, read_trip, show_trip
from stallkeep.store import costs as store
from stallkeep.store.connection import Connection
from stallkeep.work import costs as work
from stallkeep.work import split_cost
from stallkeep.work.price_trips import stored_trip
from stallkeep.work.versions import Expected

CostKind = Literal[
    "pitch_fee", "travel", "parking", "food", "lodging", "helpers", "supplies", "other"
]


SplitBy = Literal["equal", "days", "shares"]


class EventShare(Body):
    """An event that bears a part; `share` only where the cost is split by shares."""

    event_id: UUID
    share: Annotated[int, Meta(ge=1, le=1_000_000)] | None = None


class CostSplit(Body):
    """A cost of several events: equal parts, by their days, or by given shares.

    The parts add up to the whole. What is left over goes to the largest remainders; of equal
    ones the event named first gets it.
    """

    by: SplitBy
    events: Annotated[list[EventShare], Meta(min_length=1, max_length=split_cost.MOST_EVENTS)]


class CostPart(View):
    """What one event bears."""

    event_id: UUID
    share: int
    amount: Money
    tax: Money | None


class SharedCost(View):
    """How a cost is shared."""

    by: SplitBy
    parts: list[CostPart]


class Cost(View):
    """Money spent, tax included; minus is money given back. `tax` is the part that is tax."""

    id: UUID
    event_id: UUID | None
    kind: CostKind
    amount: Money
    tax: Money | None
    spent_on: dt.date | None
    note: str | None
    trip: Trip | None
    split: SharedCost | None
    import_id: UUID | None
    created_at: Moment


class NewCost(Body):
    """A cost to enter: an amount or a `trip`; of an event, of several (`split`) or of none."""

    kind: CostKind
    amount: Money | None = None
    trip: TripBody | None = None
    event_id: UUID | None = None
    split: CostSplit | None = None
    tax: Money | None = None
    spent_on: dt.date | None = None
    note: Note | None = None


class CostChanges(Body):
    """What to change; what is left out stays, null clears."""

    kind: CostKind | UnsetType = UNSET
    amount: Money | UnsetType = UNSET
    trip: TripBody | UnsetType | None = UNSET
    event_id: UUID | UnsetType | None = UNSET
    split: CostSplit | UnsetType | None = UNSET
    tax: Money | UnsetType | None = UNSET
    spent_on: dt.date | UnsetType | None = UNSET
    note: Note | UnsetType | None = UNSET


def _values(data: NewCost | CostChanges, caller: Caller) -> dict[str, Any]:
    currency = caller.shop.currency
    values = entered(data, currency)
    if isinstance(data.trip, TripBody):
        values["trip"] = read_trip(data.trip, currency)
    if isinstance(data.split, CostSplit):
        shares = [
            split_cost.EventShare(event_id=one.event_id, share=one.share)
            for one in data.split.events
        ]
        values["split"] = split_cost.NewSplit(by=data.split.by, events=shares)
    return values


def _view(whole: work.WholeCost, caller: Caller) -> Cost:
    currency, cost = caller.shop.currency, whole.cost
    trip = stored_trip(cost.trip)
    split = None
    if cost.split_by is not None:
        parts = [shown(CostPart, part, currency) for part in whole.parts]
        split = SharedCost(by=msgspec.convert(cost.split_by, SplitBy), parts=parts)
    seen = None if trip is None else show_trip(trip, currency)
    return shown(Cost, cost, currency, trip=seen, split=split)


@get("/v1/costs", operation_id="listCosts", tags=["costs"])
async def list_costs(
    request: StrictRequest,
    caller: NamedDependency[Caller],
    event: Annotated[UUID | None, QueryParameter(description="Id of an event")] = None,
    kind: Annotated[CostKind | None, QueryParameter()] = None,
    limit: Limit = DEFAULT_LIMIT,
    cursor: Cursor = None,
) -> Response[Page[Cost]]:
    """List the costs, those entered last first; of an event, also those it shares."""
    after = read_cursor(cursor, tuple[UUID])
    async with caller.read_scope() as con:
        rows = await store.list_costs(
            con, caller.shop.shop_id, {"event_id": event, "kind": kind}, after=after, limit=limit
        )
        parts = await store.parts_of(con, caller.shop.shop_id, [row.id for row in rows])
    return page(
        request,
        rows,
        limit,
        lambda row: _view(work.WholeCost(row, parts[row.id]), caller),
        lambda row: (row.id,),
    )


@get("/v1/costs/{cost_id:uuid}", operation_id="readCost", tags=["costs"])
async def read_cost(cost_id: FromPath[UUID], caller: NamedDependency[Caller]) -> Response[Cost]:
    """Read one cost."""
    async with caller.read_scope() as con:
        whole = await work.read_cost(con, caller.shop.shop_id, cost_id)
    return versioned(_view(whole, caller), whole.cost.version)


@post("/v1/costs", operation_id="addCost", tags=["costs"])
async def add_cost(
    data: JSONBody[NewCost], caller: NamedDependency[Caller], once: NamedDependency[Once]
) -> Response[Cost]:
    """Enter a cost: an amount, or a distance whose amount is worked out."""
    values = _values(data, caller)

    async def do(con: Connection) -> Response[Cost]:
        whole = await work.add_cost(con, caller.shop, values)
        path = f"/v1/costs/{whole.cost.id}"
        return created(_view(whole, caller), path, whole.cost.version)

    return await once(do)


@patch("/v1/costs/{cost_id:uuid}", operation_id="changeCost", tags=["costs"])
async def change_cost(
    cost_id: FromPath[UUID],
    data: JSONBody[CostChanges],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> Response[Cost]:
    """Change a cost; its parts, and the amount of a trip, follow."""
    values = _values(data, caller)
    async with caller.scope() as con:
        whole = await work.change_cost(con, caller.shop, cost_id, values, expected)
    return versioned(_view(whole, caller), whole.cost.version)


@delete("/v1/costs/{cost_id:uuid}", operation_id="removeCost", tags=["costs"])
async def remove_cost(
    cost_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> None:
    """Remove a cost, and with it every event's part of it."""
    async with caller.scope() as con:
        await work.remove_cost(con, caller.shop.shop_id, cost_id, expected)


ROUTES = (list_costs, read_cost, add_cost, change_cost, remove_cost)
