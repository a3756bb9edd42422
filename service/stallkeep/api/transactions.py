"""Transactions: the money lines, what each was for, and a person's word about it."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from typing import Annotated, Any, Final, Literal
from uuid import UUID

from litestar import Request, Response, delete, get, put
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody, QueryParameter
from msgspec import Meta

from stallkeep.api.auth import Caller
from stallkeep.api.pages import Cursor, Limit, Page, page, read_cursor
from stallkeep.api.schemas import Body, Moment, Price, Quantity, Title, View, Word, minor, shown
from stallkeep.domain.money import to_text
from stallkeep.store import matches
from stallkeep.store import rulings as ruling_store
from stallkeep.store import transactions as store
from stallkeep.work import rule_on_transaction as rule
from stallkeep.work.read_transaction import read_transaction

TAGS: Final = ["transactions"]
State = Literal["unmatched", "proposed", "matched", "set_aside", "not_needed"]
Kind = Literal["payment", "refund", "fee", "payout", "sale", "adjustment"]
Method = Literal["card", "cash", "online", "transfer", "other"]


class Piece(View):
    """An item and what it brought."""

    item_id: UUID
    tag_code: str
    title: str
    quantity: int
    price: str


class Weight(View):
    """One piece of evidence: match weight in bits, and what was seen."""

    bits: float
    sentence: str


class Group(View):
    """Pieces of which the evidence says only that some of them were sold."""

    item_ids: list[UUID]
    tag_prices: list[str]
    probability: float
    sentence: str


class Match(View):
    """One explanation of a transaction: matched, or proposed with its probability."""

    state: Literal["matched", "proposed"]
    explanation: str
    rank: int
    probability: float
    reason: str
    pieces: list[Piece]
    evidence: list[Weight]
    group: Group | None
    sale_id: UUID | None
    related_transaction_id: UUID | None
    decided_by: str | None


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


class PieceSaid(Body):
    """A piece by its code; without a price it gets its share of what was paid."""

    tag_code: Word
    price: Price | None = None
    quantity: Quantity = 1


class MatchSaid(Body):
    """Which pieces a payment was for; an empty list says: something without a tag."""

    pieces: Annotated[list[PieceSaid], Meta(max_length=50)]


class RefusalSaid(Body):
    """Which pieces a payment was not for (exactly this set)."""

    tag_codes: Annotated[list[Word], Meta(min_length=1, max_length=50)]


class CountSaid(Body):
    """For how many pieces a payment was."""

    pieces: Annotated[int, Meta(ge=1, le=50)]


class SetAsideSaid(Body):
    """Why a payment is not to be matched; not income, it is taken off the takings again."""

    reason: Title
    is_income: bool = True


def piece_prices(said: Sequence[PieceSaid], currency: str) -> list[rule.PiecePrice]:
    """Read the pieces of a body, each with its price in minor units where it has one."""
    return [
        rule.PiecePrice(
            tag_code=piece.tag_code,
            quantity=piece.quantity,
            price_minor=None
            if piece.price is None
            else minor(piece.price, currency, ("pieces", place, "price")),
        )
        for place, piece in enumerate(said)
    ]


def _match(row: matches.StoredMatch, currency: str) -> Match:
    group = row.piece_group
    return Match(
        state=row.state,  # type: ignore[arg-type]  # the table's check holds the same words
        explanation=row.explanation,
        rank=row.rank,
        probability=row.probability,
        reason=row.reason,
        pieces=[
            Piece(
                item_id=UUID(piece["item_id"]),
                tag_code=piece["tag_code"],
                title=piece["title"],
                quantity=piece["quantity"],
                price=to_text(piece["price_minor"], currency),
            )
            for piece in row.pieces
        ],
        evidence=[Weight(bits=e["bits"], sentence=e["sentence"]) for e in row.evidence],
        group=None
        if group is None
        else Group(
            item_ids=[UUID(item) for item in group["item_ids"]],
            tag_prices=[to_text(price, currency) for price in group["tag_prices_minor"]],
            probability=group["probability"],
            sentence=group["sentence"],
        ),
        sale_id=row.sale_id,
        related_transaction_id=row.related_transaction_id,
        decided_by=row.decided_by,
    )


def views(
    rows: Sequence[store.Transaction], found: Sequence[matches.StoredMatch]
) -> list[Transaction]:
    """Show transactions with their matches."""
    of: dict[UUID, list[matches.StoredMatch]] = defaultdict(list)
    for match in found:
        of[match.transaction_id].append(match)
    return [
        shown(Transaction, row, row.currency, matches=[_match(m, row.currency) for m in of[row.id]])
        for row in rows
    ]


@get("/v1/transactions", operation_id="listTransactions", tags=TAGS, helper=True)
async def list_transactions(
    request: Request[Any, Any, Any],
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
    helper=True,
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


@get(
    "/v1/transactions/{transaction_id:uuid}/candidates",
    operation_id="listCandidates",
    tags=TAGS,
    helper=True,
)
async def list_candidates(
    transaction_id: FromPath[UUID], caller: NamedDependency[Caller]
) -> list[Match]:
    """List what a transaction may have been for, likeliest first, each with its evidence."""
    async with caller.read_scope() as con:
        row = await read_transaction(con, caller.shop.shop_id, transaction_id)
        found = await matches.matches_of(con, caller.shop.shop_id, [transaction_id])
    return [_match(match, row.currency) for match in found]


async def as_told(caller: Caller, transaction_id: UUID) -> Transaction:
    """Read a transaction with what is now said of it."""
    async with caller.read_scope() as con:
        row = await read_transaction(con, caller.shop.shop_id, transaction_id)
        found = await matches.matches_of(con, caller.shop.shop_id, [transaction_id])
    return views([row], found)[0]


@put(
    "/v1/transactions/{transaction_id:uuid}/match",
    operation_id="sayWhatItWasFor",
    tags=TAGS,
    helper=True,
)
async def put_match(
    transaction_id: FromPath[UUID], data: JSONBody[MatchSaid], caller: NamedDependency[Caller]
) -> Transaction:
    """Confirm or choose the pieces a payment was for. A person's word outweighs any run."""
    pieces = piece_prices(data.pieces, caller.shop.currency)
    await rule.confirm(caller.pool, caller.shop, transaction_id, pieces, caller.name)
    return await as_told(caller, transaction_id)


@put(
    "/v1/transactions/{transaction_id:uuid}/refusal",
    operation_id="sayWhatItWasNotFor",
    tags=TAGS,
    helper=True,
)
async def put_refusal(
    transaction_id: FromPath[UUID], data: JSONBody[RefusalSaid], caller: NamedDependency[Caller]
) -> Transaction:
    """Say that a payment was not for exactly these pieces; no later run proposes them again."""
    pieces = [rule.PiecePrice(tag_code=code) for code in data.tag_codes]
    await rule.refuse(caller.pool, caller.shop, transaction_id, pieces, caller.name)
    return await as_told(caller, transaction_id)


@put(
    "/v1/transactions/{transaction_id:uuid}/piece-count",
    operation_id="sayForHowMany",
    tags=TAGS,
    helper=True,
)
async def put_piece_count(
    transaction_id: FromPath[UUID], data: JSONBody[CountSaid], caller: NamedDependency[Caller]
) -> Transaction:
    """Say for how many pieces a payment was; the next run takes it into account."""
    await rule.say_how_many(caller.pool, caller.shop, transaction_id, data.pieces, caller.name)
    return await as_told(caller, transaction_id)


@put(
    "/v1/transactions/{transaction_id:uuid}/set-aside",
    operation_id="setAside",
    tags=TAGS,
    helper=True,
)
async def put_set_aside(
    transaction_id: FromPath[UUID], data: JSONBody[SetAsideSaid], caller: NamedDependency[Caller]
) -> Transaction:
    """Set a transaction aside: it is not to be matched, and this is why."""
    await rule.set_aside(
        caller.pool,
        caller.shop,
        transaction_id,
        data.reason,
        caller.name,
        is_income=data.is_income,
    )
    return await as_told(caller, transaction_id)


@delete(
    "/v1/transactions/{transaction_id:uuid}/match",
    operation_id="takeWordBack",
    tags=TAGS,
    status_code=200,
    helper=True,
)
async def delete_match(
    transaction_id: FromPath[UUID], caller: NamedDependency[Caller]
) -> Transaction:
    """Take back what was said about a transaction; it is open again until the next run."""
    await rule.take_back(caller.pool, caller.shop, transaction_id)
    return await as_told(caller, transaction_id)


ROUTES = (
    list_transactions,
    get_transaction,
    list_candidates,
    put_match,
    put_refusal,
    put_piece_count,
    put_set_aside,
    delete_match,
)
