"""Conflicts: what contradicts itself and a person has to see."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal
from uuid import UUID

from litestar import Response, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath, QueryParameter

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.pages import DEFAULT_LIMIT, Cursor, Limit, Page, page, read_cursor
from stallkeep.api.schemas import Moment, View, shown
from stallkeep.api.strictness import StrictRequest
from stallkeep.store import conflicts as store
from stallkeep.work import conflicts as work

ConflictState = Literal["open", "settled"]


class Conflict(View):
    """One contradiction, in words; open until a person has dealt with it."""

    id: UUID
    kind: str
    item_id: UUID | None
    transaction_id: UUID | None
    event_id: UUID | None
    detail: str
    state: ConflictState
    created_at: Moment
    settled_at: Moment | None
    settled_by: str | None


def conflict_view(row: store.Conflict, caller: Caller) -> Conflict:
    """Show one conflict."""
    return shown(Conflict, row, caller.shop.currency)


@get("/v1/conflicts", operation_id="listConflicts", tags=["conflicts"], opt=FOR_HELPERS)
async def list_conflicts(
    request: StrictRequest,
    caller: NamedDependency[Caller],
    in_state: Annotated[ConflictState | None, QueryParameter(name="state")] = None,
    event: Annotated[UUID | None, QueryParameter(description="Of this event")] = None,
    limit: Limit = DEFAULT_LIMIT,
    cursor: Cursor = None,
) -> Response[Page[Conflict]]:
    """List the conflicts, newest first."""
    after = read_cursor(cursor, tuple[dt.datetime, UUID])
    async with caller.read_scope() as con:
        rows = await store.list_conflicts(
            con,
            caller.shop.shop_id,
            {"state": in_state, "event_id": event},
            after=after,
            limit=limit,
        )
    return page(
        request,
        rows,
        limit,
        lambda row: conflict_view(row, caller),
        lambda row: (row.created_at, row.id),
    )


@get(
    "/v1/conflicts/{conflict_id:uuid}",
    operation_id="readConflict",
    tags=["conflicts"],
    opt=FOR_HELPERS,
)
async def read_conflict(conflict_id: FromPath[UUID], caller: NamedDependency[Caller]) -> Conflict:
    """Read one conflict."""
    async with caller.read_scope() as con:
        row = await work.read_conflict(con, caller.shop.shop_id, conflict_id)
    return conflict_view(row, caller)


@post(
    "/v1/conflicts/{conflict_id:uuid}/settle",
    operation_id="settleConflict",
    tags=["conflicts"],
    status_code=200,
)
async def settle_conflict(conflict_id: FromPath[UUID], caller: NamedDependency[Caller]) -> Conflict:
    """Say that the conflict is dealt with; saying it twice changes nothing."""
    async with caller.scope() as con:
        row = await work.settle_conflict(con, caller.shop.shop_id, conflict_id, caller.name)
    return conflict_view(row, caller)


ROUTES = (list_conflicts, read_conflict, settle_conflict)
