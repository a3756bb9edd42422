"""Payments that are parts of one sale, or are not."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from litestar import put
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from msgspec import Meta

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.rulings import PieceSaid, piece_prices
from stallkeep.api.schemas import Body
from stallkeep.api.transactions import TAGS, Transaction, as_told
from stallkeep.work.join_payments import join_payments
from stallkeep.work.keep_apart import keep_apart


class JoinedSaleSaid(Body):
    """The other payments of the sale, and the pieces it was of, at what they brought in all."""

    transaction_ids: Annotated[list[UUID], Meta(min_length=1, max_length=9)]
    pieces: Annotated[list[PieceSaid], Meta(min_length=1, max_length=50)]


class OtherSaleSaid(Body):
    """The payment that is another sale."""

    transaction_id: UUID


@put(
    "/v1/transactions/{transaction_id:uuid}/joined-sale",
    operation_id="sayThatTheyAreOneSale",
    tags=TAGS,
    opt=FOR_HELPERS,
)
async def put_joined_sale(
    transaction_id: FromPath[UUID], data: JSONBody[JoinedSaleSaid], caller: NamedDependency[Caller]
) -> Transaction:
    """Say that this payment and others are parts of one sale, by card and in cash for example.

    This one has the sale and its pieces, the others are matched as parts of it; each keeps its
    amount and method. To take it back, take the word about any one of them back.
    """
    pieces = piece_prices(data.pieces, caller.shop.currency)
    await join_payments(
        caller.pool, caller.shop, transaction_id, data.transaction_ids, pieces, by=caller.name
    )
    return await as_told(caller, transaction_id)


@put(
    "/v1/transactions/{transaction_id:uuid}/other-sale",
    operation_id="sayThatTheyAreTwoSales",
    tags=TAGS,
    opt=FOR_HELPERS,
)
async def put_other_sale(
    transaction_id: FromPath[UUID], data: JSONBody[OtherSaleSaid], caller: NamedDependency[Caller]
) -> Transaction:
    """Say that this payment and another are two sales, though they look like parts of one.

    The next run does not tell of them any more. To take it back, take the word about either back.
    """
    other = data.transaction_id
    await keep_apart(caller.pool, caller.shop, transaction_id, other, caller.name)
    return await as_told(caller, transaction_id)


ROUTES = (put_joined_sale, put_other_sale)
