"""Keep the stock: take a piece in, change it, remove it."""

from __future__ import annotations

import random
from collections.abc import Mapping
from uuid import UUID

from stallkeep.domain.tag_codes import new_code
from stallkeep.store import items
from stallkeep.store.batches import batches_of
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.work.stock_errors import (
    ItemInBatchesError,
    ItemNotFoundError,
    QuantityBelowSoldError,
)
from stallkeep.work.take_listings import stored_code
from stallkeep.work.versions import Expected

_CODES_AT_ONCE = 8
LARGEST_QUANTITY = 1_000_000
"""Pieces that one item may have."""


async def read_item(con: Connection, shop_id: UUID, item_id: UUID) -> items.Item:
    """Read one item.

    Raises:
        ItemNotFoundError: The shop has none with this id.
    """
    return _found(await items.find_item(con, shop_id, item_id), item_id)


async def add_item(con: Connection, shop_id: UUID, values: Mapping[str, object]) -> items.Item:
    """Take a piece into stock; without a tag code it gets a new one.

    Raises:
        TagCodeTakenError: Another piece has the code.
    """
    typed = values.get("tag_code")
    code = stored_code(str(typed)) if typed else await unused_code(con, shop_id)
    return await items.add_item(
        con, {**values, "shop_id": shop_id, "id": new_id(), "tag_code": code}
    )


async def unused_code(con: Connection, shop_id: UUID) -> str:
    """Draw a tag code that no piece of the shop has."""
    source = random.SystemRandom()
    while True:
        drawn = [new_code(source) for _ in range(_CODES_AT_ONCE)]
        taken = await items.taken_codes(con, shop_id, drawn)
        if free := [code for code in drawn if code not in taken]:
            return free[0]


async def change_item(
    con: Connection,
    shop_id: UUID,
    item_id: UUID,
    values: Mapping[str, object],
    expected: Expected,
) -> items.Item:
    """Change the columns named in *values*.

    Raises:
        ItemNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
        QuantityBelowSoldError: More are sold than there would be.
        ItemInBatchesError: Quantity or cost would differ from that of its batches.
        TagCodeTakenError: Another piece has the code.
    """
    item = _found(await items.lock_item(con, shop_id, item_id), item_id)
    expected.check(item.version)
    quantity = values.get("quantity")
    if isinstance(quantity, int) and quantity < item.sold:
        raise QuantityBelowSoldError(
            f"{item.sold} are sold already, so there were at least that many", sold=item.sold
        )
    if any(values.get(name, stored) != stored for name, stored in _of_batches(item)):
        await _refuse_in_batches(con, shop_id, item)
    code = values.get("tag_code")
    if isinstance(code, str):
        values = {**values, "tag_code": stored_code(code)}
    return await items.change_item(con, shop_id, item_id, values)


async def remove_item(con: Connection, shop_id: UUID, item_id: UUID, expected: Expected) -> None:
    """Remove a piece that was never listed, taken to an event or sold.

    Raises:
        ItemNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
        InUseError: Something refers to it.
    """
    item = _found(await items.lock_item(con, shop_id, item_id), item_id)
    expected.check(item.version)
    await items.remove_item(con, shop_id, item_id)


def _of_batches(item: items.Item) -> tuple[tuple[str, int | None], ...]:
    return ("quantity", item.quantity), ("cost_minor", item.cost_minor)


async def _refuse_in_batches(con: Connection, shop_id: UUID, item: items.Item) -> None:
    if await batches_of(con, shop_id, item.id):
        raise ItemInBatchesError(
            "Its quantity and cost come from its batches: add a batch, or change one"
        )


def _found(item: items.Item | None, item_id: UUID) -> items.Item:
    if item is None:
        raise ItemNotFoundError(f"There is no item {item_id}")
    return item
