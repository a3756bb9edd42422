"""Keep pieces held in number in batches: what each batch cost, and so what each sale did."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

import msgspec

from stallkeep.domain.batches import Batch, SoldOff, StockMove, stock_card
from stallkeep.domain.money import half_up
from stallkeep.store import batches as store
from stallkeep.store import items
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.work.items import LARGEST_QUANTITY, read_item
from stallkeep.work.stock_errors import (
    BatchNotFoundError,
    ItemCostUnknownError,
    ItemNotFoundError,
    QuantityBelowSoldError,
    QuantityTooLargeError,
)
from stallkeep.work.versions import Expected


class StockCard(msgspec.Struct, frozen=True, kw_only=True):
    """An item's batches and every move of its pieces.

    Attributes:
        batches: By the day they came in.
        moves: Batches and sales by day, each with what was left.
        left: Pieces left.
        left_cost_minor: What they cost.
        average_minor: Of one, half up; None when none is left.
    """

    batches: Sequence[store.Batch]
    moves: Sequence[StockMove]
    left: int
    left_cost_minor: int
    average_minor: int | None


async def read_stock_card(con: Connection, shop_id: UUID, item_id: UUID) -> StockCard:
    """Read an item's batches and moves; one that is not held in batches has none.

    Raises:
        ItemNotFoundError: The shop has none with this id.
    """
    await read_item(con, shop_id, item_id)
    found = await store.batches_of(con, shop_id, item_id)
    sold = await store.sold_of(con, shop_id, item_id) if found else []
    moves = stock_card(
        [
            Batch(quantity=one.quantity, cost_minor=one.cost_minor, acquired_on=one.acquired_on)
            for one in found
        ],
        [SoldOff(quantity=line.quantity, sold_on=line.sold_on) for line in sold],
    )
    left, left_cost_minor = (moves[-1].left, moves[-1].left_cost_minor) if moves else (0, 0)
    return StockCard(
        batches=found,
        moves=moves,
        left=left,
        left_cost_minor=left_cost_minor,
        average_minor=half_up(left_cost_minor, left) if left else None,
    )


async def read_batch(con: Connection, shop_id: UUID, item_id: UUID, batch_id: UUID) -> store.Batch:
    """Read one batch.

    Raises:
        BatchNotFoundError: The item has none with this id.
    """
    return _found(await store.find_batch(con, shop_id, batch_id), item_id, batch_id)


async def add_batch(
    con: Connection, shop_id: UUID, item_id: UUID, values: Mapping[str, Any]
) -> store.Batch:
    """Take in a batch; its pieces are added to the item's.

    With its first batch an item begins to be held in batches: the pieces it had so far become a
    batch of their own, at the item's cost.

    Raises:
        ItemNotFoundError: The shop has none with this id.
        ItemCostUnknownError: The item has pieces and no cost.
        QuantityTooLargeError: The item would have more pieces than one may have.
    """
    item = await _lock_item(con, shop_id, item_id)
    _check_quantity(item.quantity + values["quantity"])
    keys = {"shop_id": shop_id, "item_id": item_id}
    if item.quantity and not await store.batches_of(con, shop_id, item_id):
        await store.add_batch(con, {**keys, "id": new_id(), **_first_batch(item)})
    batch = await store.add_batch(con, {**keys, "id": new_id(), **values})
    await store.recount(con, shop_id, item_id)
    return batch


async def change_batch(  # noqa: PLR0917 - the batch is named by its item too
    con: Connection,
    shop_id: UUID,
    item_id: UUID,
    batch_id: UUID,
    values: Mapping[str, Any],
    expected: Expected,
) -> store.Batch:
    """Change what *values* names; the cost of everything sold of the item follows.

    Raises:
        BatchNotFoundError: The item has none with this id.
        StaleVersionError: It has changed since it was read.
        QuantityBelowSoldError: More are sold than there would be.
        QuantityTooLargeError: The item would have more pieces than one may have.
    """
    item = await _lock_item(con, shop_id, item_id)
    batch = _found(await store.lock_batch(con, shop_id, batch_id), item_id, batch_id)
    expected.check(batch.version)
    _check_left(item, item.quantity - batch.quantity + values.get("quantity", batch.quantity))
    batch = await store.change_batch(con, shop_id, batch_id, values)
    await store.recount(con, shop_id, item_id)
    return batch


async def remove_batch(
    con: Connection, shop_id: UUID, item_id: UUID, batch_id: UUID, expected: Expected
) -> None:
    """Remove a batch that was entered by mistake, with its pieces.

    Raises:
        BatchNotFoundError: The item has none with this id.
        StaleVersionError: It has changed since it was read.
        QuantityBelowSoldError: More are sold than there would be.
    """
    item = await _lock_item(con, shop_id, item_id)
    batch = _found(await store.lock_batch(con, shop_id, batch_id), item_id, batch_id)
    expected.check(batch.version)
    _check_left(item, item.quantity - batch.quantity)
    await store.remove_batch(con, shop_id, batch_id)
    await store.recount(con, shop_id, item_id)


def _first_batch(item: items.Item) -> dict[str, object]:
    if item.cost_minor is None:
        there = "The 1 piece" if item.quantity == 1 else f"The {item.quantity} pieces"
        raise ItemCostUnknownError(
            f"{there} entered so far would be the first batch, without a cost. Enter the item's "
            "cost (of one) first, 0.00 if it cost nothing; or quantity 0 if none is there yet"
        )
    return {
        "quantity": item.quantity,
        "cost_minor": item.quantity * item.cost_minor,
        "acquired_on": item.acquired_on,
    }


def _check_left(item: items.Item, quantity: int) -> None:
    if quantity < item.sold:
        raise QuantityBelowSoldError(
            f"{item.sold} are sold already, so there were at least that many", sold=item.sold
        )
    _check_quantity(quantity)


def _check_quantity(quantity: int) -> None:
    if quantity > LARGEST_QUANTITY:
        raise QuantityTooLargeError(f"An item has at most {LARGEST_QUANTITY} pieces")


async def _lock_item(con: Connection, shop_id: UUID, item_id: UUID) -> items.Item:
    item = await items.lock_item(con, shop_id, item_id)
    if item is None:
        raise ItemNotFoundError(f"There is no item {item_id}")
    return item


def _found(batch: store.Batch | None, item_id: UUID, batch_id: UUID) -> store.Batch:
    if batch is None or batch.item_id != item_id:
        raise BatchNotFoundError(f"The item has no batch {batch_id}")
    return batch
