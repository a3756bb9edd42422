"""A person's word about a transaction: what it was for, what not, how many, or none of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Annotated
from uuid import UUID

from litestar import delete, put
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from msgspec import Meta, field

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.schemas import Body, Price, Quantity, Title, Word, minor
from stallkeep.api.transactions import TAGS, Transaction, as_told
from stallkeep.work import rule_on_transaction as rule
from stallkeep.work import settle_refund as work
from stallkeep.work.named_pieces import PiecePrice


class PieceSaid(Body):
    """A piece by its code; without a price it gets its share of what was paid."""

    tag_code: Word
    price: Price | None = None
    quantity: Quantity = 1


class MatchSaid(Body):
    """Which pieces a payment was for; an empty list says: something without a tag."""

    pieces: Annotated[list[PieceSaid], Meta(max_length=50)]


class RefusalSaid(Body):
    """Which pieces a payment was not for: exactly this set, a code twice for two of it."""

    tag_codes: Annotated[list[Word], Meta(min_length=1, max_length=50)]


class CountSaid(Body):
    """For how many pieces a payment was."""

    pieces: Annotated[int, Meta(ge=1, le=50)]


class RefundSaid(Body):
    """The payment that is given back, and the codes of pieces that came back with it, if any.

    A code twice means two of that piece; an empty list says that nothing came back.
    """

    payment_id: UUID
    came_back: Annotated[list[Word], Meta(max_length=50)] = field(default_factory=list)


class SetAsideSaid(Body):
    """Why a payment is not to be matched; not income, it is taken off the takings again."""

    reason: Title
    is_income: bool = True


def piece_prices(said: Sequence[PieceSaid], currency: str) -> list[PiecePrice]:
    """Read the pieces of a body, each with its price in minor units where it has one."""
    return [
        PiecePrice(
            tag_code=piece.tag_code,
            quantity=piece.quantity,
            price_minor=None
            if piece.price is None
            else minor(piece.price, currency, ("pieces", place, "price")),
        )
        for place, piece in enumerate(said)
    ]


@put(
    "/v1/transactions/{transaction_id:uuid}/match",
    operation_id="sayWhatItWasFor",
    tags=TAGS,
    opt=FOR_HELPERS,
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
    opt=FOR_HELPERS,
)
async def put_refusal(
    transaction_id: FromPath[UUID], data: JSONBody[RefusalSaid], caller: NamedDependency[Caller]
) -> Transaction:
    """Say that a payment was not for exactly these pieces; no later run proposes them again."""
    pieces = [PiecePrice(tag_code=code) for code in data.tag_codes]
    await rule.refuse(caller.pool, caller.shop, transaction_id, pieces, caller.name)
    return await as_told(caller, transaction_id)


@put(
    "/v1/transactions/{transaction_id:uuid}/piece-count",
    operation_id="sayForHowMany",
    tags=TAGS,
    opt=FOR_HELPERS,
)
async def put_piece_count(
    transaction_id: FromPath[UUID], data: JSONBody[CountSaid], caller: NamedDependency[Caller]
) -> Transaction:
    """Say for how many pieces a payment was; the next run takes it into account."""
    await rule.say_how_many(caller.pool, caller.shop, transaction_id, data.pieces, caller.name)
    return await as_told(caller, transaction_id)


@put(
    "/v1/transactions/{transaction_id:uuid}/refunded-payment",
    operation_id="sayWhatItGivesBack",
    tags=TAGS,
    opt=FOR_HELPERS,
)
async def put_refunded_payment(
    transaction_id: FromPath[UUID], data: JSONBody[RefundSaid], caller: NamedDependency[Caller]
) -> Transaction:
    """Say which payment a refund gives back; pieces that came back are in stock again.

    What the payment was for must be known where pieces come back, and is then a person's word.
    """
    said = work.RefundSaid(payment_id=data.payment_id, came_back=data.came_back, by=caller.name)
    now = dt.datetime.now(dt.UTC)
    await work.settle_refund(caller.pool, caller.shop, transaction_id, said, now)
    return await as_told(caller, transaction_id)


@put(
    "/v1/transactions/{transaction_id:uuid}/set-aside",
    operation_id="setAside",
    tags=TAGS,
    opt=FOR_HELPERS,
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
    opt=FOR_HELPERS,
)
async def delete_match(
    transaction_id: FromPath[UUID], caller: NamedDependency[Caller]
) -> Transaction:
    """Take back what was said about a transaction; it is open again until the next run.

    Pieces that a refund was said to have brought back are sold after all.
    """
    await rule.take_back(caller.pool, caller.shop, transaction_id)
    return await as_told(caller, transaction_id)


ROUTES = (
    put_match,
    put_refusal,
    put_piece_count,
    put_refunded_payment,
    put_set_aside,
    delete_match,
)
