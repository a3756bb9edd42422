"""Transactions: the money lines, what each said before, and what people said of it."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from typing import Annotated, Final, Literal
from uuid import UUID

from litestar import Response, get
from litestar.di import NamedDependency
from litestar.params import FromPath, QueryParameter

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.matches import Match, match_view
from stallkeep.api.pages import Cursor, Limit, Page, page, read_cursor
from stallkeep.api.schemas import Moment, View, shown
from stallkeep.api.strictness import StrictRequest
from stallkeep.store import matches
from stallkeep.store import rulings as ruling_store
from stallkeep.store import transactions as store
from stallkeep.work.read_transaction import read_transaction

TAGS: Final = ["transactions"]
State = Literal["unmatched", "proposed", "matched", "set_aside", "not_needed"]
Kind = Literal["payment", "refund", "fee", "payout", "sale", "adjustment"]
Method = Literal["card", "cash", "online", "transfer", "other"]


class Transaction(View):
    """One canonical line of money. `amount` is plus towards the seller; parts are within it."""

    id: UUID
    channel_id: UUID
    event_id: UUID | None
    kind: Kind
    amount: str
    currency: str
    occurred_on: dt.date
    occurred_at: Moment | None
    method: Method | None
    match_state: State
    match_reason: str | None
    fee: str | None
    tip: str | None
    tax: str | None
    surcharge: str | None
    postage: str | None
    postage_cost: str | None
    refunded: str | None
    reference: str | None
    tag_code: str | None
    title: str | None
    quantity: int
    note: str | None
    external_id: str | None
    related_id: str | None
    payout_id: str | None
    detail: str | None
    version: int
    import_id: UUID | None
    record: int | None
    line: int | None
    matches: list[Match]


class OlderVersion(View):
    """What a transaction said before a later export changed it."""

    version: int
    kind: Kind
    amount: str
    occurred_on: dt.date
    fee: str | None
    tip: str | None
    tax: str | None
    title: str | None
    note: str | None
    import_id: UUID | None
    replaced_at: Moment


class Ruling(View):
    """What a person said about a transaction, and whether it still stands."""

    kind: str
    item_ids: list[UUID]
    pieces: int | None
    related_transaction_id: UUID | None
    is_income: bool
    reason: str | None
    said_by: str
    said_at: Moment
    withdrawn_at: Moment | None


class WholeTransaction(View):
    """A transaction with its older versions and every word said about it."""

    transaction: Transaction
    older: list[OlderVersion]
    rulings: list[Ruling]


def views(
    rows: Sequence[store.Transaction], found: Sequence[matches.StoredMatch]
) -> list[Transaction]:
    """Show transactions with their matches."""
    of: dict[UUID, list[matches.StoredMatch]] = defaultdict(list)
    for match in found:
        of[match.transaction_id].append(match)
    return [
        shown(
            Transaction,
            row,
            row.currency,
            matches=[match_view(m, row.currency) for m in of[row.id]],
        )
        for row in rows
    ]


@get("/v1/transactions", operation_id="listTransactions", tags=TAGS, opt=FOR_HELPERS)
async def list_transactions(
    request: StrictRequest,
    caller: NamedDependency[Caller],
    state_wanted: Annotated[
        State | None, QueryParameter(name="state", description="What is known about it")
    ] = None,
    event: Annotated[UUID | None, QueryParameter(description="Of this event")] = None,
    channel: Annotated[UUID | None, QueryParameter(description="Of this channel")] = None,
    import_id: Annotated[
        UUID | None, QueryParameter(name="import", description="Of this import")
    ] = None,
    kind: Annotated[Kind | None, QueryParameter()] = None,
    method: Annotated[Method | None, QueryParameter()] = None,
    from_on: Annotated[
        dt.date | None, QueryParameter(name="from", description="First day, inclusive")
    ] = None,
    to_on: Annotated[
        dt.date | None, QueryParameter(name="to", description="Last day, inclusive")
    ] = None,
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Response[Page[Transaction]]:
    """List transactions in order of time, for example the unmatched ones of an event."""
    filters = store.Filters(
        match_state=state_wanted,
        event_id=event,
        channel_id=channel,
        import_id=import_id,
        kind=kind,
        method=method,
        from_on=from_on,
        to_on=to_on,
    )
    after = read_cursor(cursor, tuple[dt.datetime, UUID])
    async with caller.read_scope() as con:
        rows = await store.list_transactions(con, caller.shop.shop_id, filters, limit, after)
        found = await matches.matches_of(con, caller.shop.shop_id, [row.id for row in rows])
    seen = {view.id: view for view in views(rows, found)}
    return page(
        request, rows, limit, lambda row: seen[row.id], lambda row: (row.ordered_at, row.id)
    )


@get(
    "/v1/transactions/{transaction_id:uuid}",
    operation_id="readTransaction",
    tags=TAGS,
    opt=FOR_HELPERS,
)
async def get_transaction(
    transaction_id: FromPath[UUID], caller: NamedDependency[Caller]
) -> WholeTransaction:
    """Read a transaction, what it said before, and every word said about it."""
    async with caller.read_scope() as con:
        row = await read_transaction(con, caller.shop.shop_id, transaction_id)
        older = await store.versions_of(con, caller.shop.shop_id, transaction_id)
        said = await ruling_store.all_rulings(con, caller.shop.shop_id, transaction_id)
        found = await matches.matches_of(con, caller.shop.shop_id, [transaction_id])
    return WholeTransaction(
        transaction=views([row], found)[0],
        older=[shown(OlderVersion, version, version.currency) for version in older],
        rulings=[shown(Ruling, ruling, row.currency) for ruling in said],
    )


async def as_told(caller: Caller, transaction_id: UUID) -> Transaction:
    """Read a transaction with what is now said of it."""
    async with caller.read_scope() as con:
        row = await read_transaction(con, caller.shop.shop_id, transaction_id)
        found = await matches.matches_of(con, caller.shop.shop_id, [transaction_id])
    return views([row], found)[0]


ROUTES = (list_transactions, get_transaction)
