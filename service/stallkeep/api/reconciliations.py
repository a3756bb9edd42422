"""Reconciliations: have the payments of an event, or of a channel and period, matched."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final
from uuid import UUID

from litestar import Response, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.problems import field_error
from stallkeep.api.schemas import Body, Moment, View
from stallkeep.domain.money import to_text
from stallkeep.work.read_reconciliation import latest_of_event, read_reconciliation
from stallkeep.work.reconcile import reconcile_channel, reconcile_event
from stallkeep.work.store_answer import Reconciled

TAGS: Final = ["reconciliations"]


class Wanted(Body):
    """An event, or a channel with the days from and to (both inclusive, either left open)."""

    event_id: UUID | None = None
    channel_id: UUID | None = None
    from_on: dt.date | None = None
    to_on: dt.date | None = None


class Finding(View):
    """Something a person should look at; probability 1 is a plain contradiction."""

    code: str
    sentence: str
    transaction_ids: list[UUID]
    item_ids: list[UUID]
    amount: str | None
    probability: float


class Findings(View):
    """What the last run of an event found; nothing and no run where there was none yet."""

    data: list[Finding]
    reconciliation_id: UUID | None
    created_at: Moment | None


class Reconciliation(View):
    """What a run found: lines by state, findings to look at, and how the answer was reached."""

    id: UUID
    event_id: UUID | None
    channel_id: UUID | None
    from_on: dt.date | None
    to_on: dt.date | None
    counts: dict[str, int]
    findings: list[Finding]
    report: dict[str, Any]


class StoredReconciliation(Reconciliation):
    """A run of the past."""

    engine: str
    created_at: Moment


@post("/v1/reconciliations", operation_id="reconcile", tags=TAGS, opt=FOR_HELPERS)
async def post_reconciliation(
    data: JSONBody[Wanted], caller: NamedDependency[Caller]
) -> Response[Reconciliation]:
    """Match payments to pieces. Run it as often as you like: what a person said stays."""
    done = await _run(data, caller)
    values = {name: getattr(done, name) for name in done.__struct_fields__}
    view = Reconciliation(**_with_findings(values, caller.shop.currency))
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
    tags=TAGS,
    opt=FOR_HELPERS,
)
async def get_reconciliation(
    reconciliation_id: FromPath[UUID], caller: NamedDependency[Caller]
) -> StoredReconciliation:
    """Read what a run found."""
    async with caller.read_scope() as con:
        row = await read_reconciliation(con, caller.shop.shop_id, reconciliation_id)
    return StoredReconciliation(**_with_findings(row, caller.shop.currency))


@get("/v1/events/{event_id:uuid}/findings", operation_id="listFindings", tags=TAGS, opt=FOR_HELPERS)
async def list_findings(event_id: FromPath[UUID], caller: NamedDependency[Caller]) -> Findings:
    """List what the last run of an event found that a person should look at."""
    async with caller.read_scope() as con:
        row = await latest_of_event(con, caller.shop.shop_id, event_id)
    if row is None:
        return Findings(data=[], reconciliation_id=None, created_at=None)
    return Findings(
        data=_findings(row["report"], caller.shop.currency),
        reconciliation_id=row["id"],
        created_at=row["created_at"],
    )


def _with_findings(values: Mapping[str, Any], currency: str) -> dict[str, Any]:
    """Take the findings out of a run's report, with their amounts as text."""
    report = {name: value for name, value in values["report"].items() if name != "findings"}
    return {**values, "report": report, "findings": _findings(values["report"], currency)}


def _findings(report: Mapping[str, Any], currency: str) -> list[Finding]:
    return [
        Finding(
            code=found["code"],
            sentence=found["sentence"],
            transaction_ids=[UUID(one) for one in found["transaction_ids"]],
            item_ids=[UUID(one) for one in found["item_ids"]],
            amount=None
            if found["amount_minor"] is None
            else to_text(found["amount_minor"], currency),
            probability=found["probability"],
        )
        for found in report.get("findings", ())
    ]


ROUTES = (post_reconciliation, get_reconciliation, list_findings)
