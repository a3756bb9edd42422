"""Reconciliations: have the payments of an event, or of a channel and period, matched."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import UUID

from litestar import Response, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody

from stallkeep.api.auth import Caller
from stallkeep.api.problems import field_error
from stallkeep.api.schemas import Body, Moment, View
from stallkeep.work.read_reconciliation import read_reconciliation
from stallkeep.work.reconcile import reconcile_channel, reconcile_event
from stallkeep.work.store_answer import Reconciled


class Wanted(Body):
    """An event, or a channel with the days from and to (both inclusive, either left open)."""

    event_id: UUID | None = None
    channel_id: UUID | None = None
    from_on: dt.date | None = None
    to_on: dt.date | None = None


class Reconciliation(View):
    """What a run found: lines by state, findings to look at, and how the answer was reached."""

    id: UUID
    event_id: UUID | None
    channel_id: UUID | None
    from_on: dt.date | None
    to_on: dt.date | None
    counts: dict[str, int]
    report: dict[str, Any]


class StoredReconciliation(Reconciliation):
    """A run of the past."""

    engine: str
    created_at: Moment


@post("/v1/reconciliations", operation_id="reconcile", tags=["reconciliations"], helper=True)
async def post_reconciliation(
    data: JSONBody[Wanted], caller: NamedDependency[Caller]
) -> Response[Reconciliation]:
    """Match payments to pieces. Run it as often as you like: what a person said stays."""
    done = await _run(data, caller)
    view = Reconciliation(
        **{name: getattr(done, name) for name in Reconciliation.__struct_fields__}
    )
    return Response(view, headers={"Location": f"/v1/reconciliations/{done.id}"})


async def _run(data: Wanted, caller: Caller) -> Reconciled:
    if (data.event_id is None) == (data.channel_id is None):
        raise field_error("Expected either event_id or channel_id", ())
    if data.event_id is not None:
        if data.from_on is not None or data.to_on is not None:
            raise field_error("from_on and to_on go with channel_id; an event has its days", ())
        return await reconcile_event(caller.pool, caller.shop, data.event_id)
    if data.from_on and data.to_on and data.to_on < data.from_on:
        raise field_error("Expected a day not before from_on", ("to_on",))
    assert data.channel_id is not None  # noqa: S101 - one of the two was checked above
    return await reconcile_channel(
        caller.pool, caller.shop, data.channel_id, data.from_on, data.to_on
    )


@get(
    "/v1/reconciliations/{reconciliation_id:uuid}",
    operation_id="readReconciliation",
    tags=["reconciliations"],
    helper=True,
)
async def get_reconciliation(
    reconciliation_id: FromPath[UUID], caller: NamedDependency[Caller]
) -> StoredReconciliation:
    """Read what a run found."""
    async with caller.read_scope() as con:
        row = await read_reconciliation(con, caller.shop.shop_id, reconciliation_id)
    return StoredReconciliation(**row)


ROUTES = (post_reconciliation, get_reconciliation)
