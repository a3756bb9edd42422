"""Costs: of an event, or of the shop in general."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal
from uuid import UUID

from litestar import Response, delete, get, patch, post
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody, QueryParameter
from msgspec import UNSET, UnsetType

from stallkeep.api.answers import created, versioned
from stallkeep.api.auth import Caller
from stallkeep.api.once import Once
from stallkeep.api.pages import DEFAULT_LIMIT, Cursor, Limit, Page, page, read_cursor
from stallkeep.api.schemas import Body, Moment, Money, Note, View, entered, shown
from stallkeep.api.strictness import StrictRequest
from stallkeep.store import costs as store
from stallkeep.store.connection import Connection
from stallkeep.work import costs as work
from stallkeep.work.versions import Expected

CostKind = Literal[
    "pitch_fee", "travel", "parking", "food", "lodging", "helpers", "supplies", "other"
]


class Cost(View):
    """Money spent, tax included; minus is money given back. `tax` is the part that is tax."""

    id: UUID
    event_id: UUID | None
    kind: CostKind
    amount: Money
    tax: Money | None
    spent_on: dt.date | None
    note: str | None
    import_id: UUID | None
    created_at: Moment


class NewCost(Body):
    """A cost to enter; without an event it is the shop's in general."""

    kind: CostKind
    amount: Money
    event_id: UUID | None = None
    tax: Money | None = None
    spent_on: dt.date | None = None
    note: Note | None = None


class CostChanges(Body):
    """What to change; what is left out stays, null clears."""

    kind: CostKind | UnsetType = UNSET
    amount: Money | UnsetType = UNSET
    event_id: UUID | UnsetType | None = UNSET
    tax: Money | UnsetType | None = UNSET
    spent_on: dt.date | UnsetType | None = UNSET
    note: Note | UnsetType | None = UNSET


def _view(row: store.Cost, caller: Caller) -> Cost:
    return shown(Cost, row, caller.shop.currency)


@get("/v1/costs", operation_id="listCosts", tags=["costs"])
async def list_costs(
    request: StrictRequest,
    caller: NamedDependency[Caller],
    event: Annotated[UUID | None, QueryParameter(description="Id of an event")] = None,
    kind: Annotated[CostKind | None, QueryParameter()] = None,
    limit: Limit = DEFAULT_LIMIT,
    cursor: Cursor = None,
) -> Response[Page[Cost]]:
    """List the costs, those entered last first."""
    after = read_cursor(cursor, tuple[UUID])
    async with caller.read_scope() as con:
        rows = await store.list_costs(
            con, caller.shop.shop_id, {"event_id": event, "kind": kind}, after=after, limit=limit
        )
    return page(request, rows, limit, lambda row: _view(row, caller), lambda row: (row.id,))


@get("/v1/costs/{cost_id:uuid}", operation_id="readCost", tags=["costs"])
async def read_cost(cost_id: FromPath[UUID], caller: NamedDependency[Caller]) -> Response[Cost]:
    """Read one cost."""
    async with caller.read_scope() as con:
        row = await work.read_cost(con, caller.shop.shop_id, cost_id)
    return versioned(_view(row, caller), row.version)


@post("/v1/costs", operation_id="addCost", tags=["costs"])
async def add_cost(
    data: JSONBody[NewCost], caller: NamedDependency[Caller], once: NamedDependency[Once]
) -> Response[Cost]:
    """Enter a cost."""
    values = entered(data, caller.shop.currency)

    async def do(con: Connection) -> Response[Cost]:
        row = await work.add_cost(con, caller.shop.shop_id, values)
        return created(_view(row, caller), f"/v1/costs/{row.id}", row.version)

    return await once(do)


@patch("/v1/costs/{cost_id:uuid}", operation_id="changeCost", tags=["costs"])
async def change_cost(
    cost_id: FromPath[UUID],
    data: JSONBody[CostChanges],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> Response[Cost]:
    """Change a cost."""
    values = entered(data, caller.shop.currency)
    async with caller.scope() as con:
        row = await work.change_cost(con, caller.shop.shop_id, cost_id, values, expected)
    return versioned(_view(row, caller), row.version)


@delete("/v1/costs/{cost_id:uuid}", operation_id="removeCost", tags=["costs"])
async def remove_cost(
    cost_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> None:
    """Remove a cost."""
    async with caller.scope() as con:
        await work.remove_cost(con, caller.shop.shop_id, cost_id, expected)


ROUTES = (list_costs, read_cost, add_cost, change_cost, remove_cost)
