"""Batches: pieces held in number, bought or made together, and what each sale of them cost."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from litestar import Response, delete, get, patch, post
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from msgspec import UNSET, UnsetType

from stallkeep.api.answers import created, versioned
from stallkeep.api.auth import Caller
from stallkeep.api.once import Once
from stallkeep.api.schemas import Body, Moment, Money, Note, Price, Quantity, View, entered, shown
from stallkeep.domain.money import to_text
from stallkeep.store import batches as store
from stallkeep.store.connection import Connection
from stallkeep.work import batches as work
from stallkeep.work.versions import Expected


class Batch(View):
    """Pieces of an item bought or made together; `cost` is for all of them."""

    id: UUID
    item_id: UUID
    quantity: int
    cost: Price
    acquired_on: dt.date | None
    note: str | None
    created_at: Moment


class NewBatch(Body):
    """A batch to take in; `cost` is for all of its pieces."""

    quantity: Quantity
    cost: Price
    acquired_on: dt.date | None = None
    note: Note | None = None


class BatchChanges(Body):
    """What to change; what is left out stays, null clears."""

    quantity: Quantity | UnsetType = UNSET
    cost: Price | UnsetType = UNSET
    acquired_on: dt.date | UnsetType | None = UNSET
    note: Note | UnsetType | None = UNSET


class StockMove(View):
    """Pieces that came in (plus) or were sold (minus), what they cost, and what was left."""

    on: dt.date | None
    quantity: int
    cost: Money
    left: int
    left_cost: Money


class StockCard(View):
    """An item's batches, and its moves by day, so that its average cost can be checked.

    `average_cost` is that of one piece left, null when none is.
    """

    batches: list[Batch]
    moves: list[StockMove]
    left: int
    left_cost: Money
    average_cost: Money | None


def _view(row: store.Batch, caller: Caller) -> Batch:
    return shown(Batch, row, caller.shop.currency)


@get("/v1/items/{item_id:uuid}/batches", operation_id="readBatches", tags=["items"])
async def read_batches(
    item_id: FromPath[UUID], caller: NamedDependency[Caller]
) -> Response[StockCard]:
    """Read an item's batches and moves; one that is not held in batches has none.

    A sale costs (cost of all that is held) x (pieces sold) / (pieces held), rounded to the cent;
    the rest stays with the pieces left, so that all batches = all sales + what is left.
    """
    async with caller.read_scope() as con:
        card = await work.read_stock_card(con, caller.shop.shop_id, item_id)
    currency = caller.shop.currency
    moves = [shown(StockMove, move, currency) for move in card.moves]
    average = None if card.average_minor is None else to_text(card.average_minor, currency)
    return Response(
        StockCard(
            batches=[_view(batch, caller) for batch in card.batches],
            moves=moves,
            left=card.left,
            left_cost=to_text(card.left_cost_minor, currency),
            average_cost=average,
        )
    )


@get("/v1/items/{item_id:uuid}/batches/{batch_id:uuid}", operation_id="readBatch", tags=["items"])
async def read_batch(
    item_id: FromPath[UUID], batch_id: FromPath[UUID], caller: NamedDependency[Caller]
) -> Response[Batch]:
    """Read one batch."""
    async with caller.read_scope() as con:
        row = await work.read_batch(con, caller.shop.shop_id, item_id, batch_id)
    return versioned(_view(row, caller), row.version)


@post("/v1/items/{item_id:uuid}/batches", operation_id="addBatch", tags=["items"])
async def add_batch(
    item_id: FromPath[UUID],
    data: JSONBody[NewBatch],
    caller: NamedDependency[Caller],
    once: NamedDependency[Once],
) -> Response[Batch]:
    """Take in a batch; from its first one on, the item's quantity and cost come from its batches.

    The pieces it had so far become a batch of their own, at the item's cost.
    """
    values = entered(data, caller.shop.currency)

    async def do(con: Connection) -> Response[Batch]:
        row = await work.add_batch(con, caller.shop.shop_id, item_id, values)
        path = f"/v1/items/{item_id}/batches/{row.id}"
        return created(_view(row, caller), path, row.version)

    return await once(do)


@patch(
    "/v1/items/{item_id:uuid}/batches/{batch_id:uuid}", operation_id="changeBatch", tags=["items"]
)
async def change_batch(
    item_id: FromPath[UUID],
    batch_id: FromPath[UUID],
    data: JSONBody[BatchChanges],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> Response[Batch]:
    """Change a batch; what was sold of the item costs its new average."""
    values = entered(data, caller.shop.currency)
    async with caller.scope() as con:
        row = await work.change_batch(con, caller.shop.shop_id, item_id, batch_id, values, expected)
    return versioned(_view(row, caller), row.version)


@delete(
    "/v1/items/{item_id:uuid}/batches/{batch_id:uuid}", operation_id="removeBatch", tags=["items"]
)
async def remove_batch(
    item_id: FromPath[UUID],
    batch_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> None:
    """Remove a batch that was entered by mistake, with its pieces."""
    async with caller.scope() as con:
        await work.remove_batch(con, caller.shop.shop_id, item_id, batch_id, expected)


ROUTES = (read_batches, read_batch, add_batch, change_batch, remove_batch)
