"""Batches: pieces of one item bought or made together, each batch with its cost."""

from __future__ import annotations

import datetime as dt
from typing import Final
from uuid import UUID

import msgspec
from sqlalchemy import bindparam, select

from stallkeep.store.connection import Connection
from stallkeep.store.query import Query
from stallkeep.store.rows import Rows
from stallkeep.store.statements import columns_of, here
from stallkeep.store.tables import batch


class Batch(msgspec.Struct, frozen=True, gc=False):
    """`cost_minor` is for all pieces of the batch."""

    id: UUID
    item_id: UUID
    quantity: int
    cost_minor: int
    acquired_on: dt.date | None
    note: str | None
    created_at: dt.datetime
    version: int


class SoldLine(msgspec.Struct, frozen=True, gc=False):
    """Pieces of an item sold together, and what the database says they cost."""

    sale_id: UUID
    quantity: int
    sold_on: dt.date
    cost_minor: int | None


_OF: Final = Query(
    select(*columns_of(batch, Batch))
    .where(here(batch), batch.c.item_id == bindparam("item_id"))
    .order_by(batch.c.acquired_on.nulls_first(), batch.c.id),
    Batch,
)
_SOLD: Final = """
select s.id, l.quantity, s.sold_on, l.cost_minor
  from sale_line l join sale s on s.shop_id = l.shop_id and s.id = l.sale_id
 where l.shop_id = $1 and l.item_id = $2 and l.state = 'sold'
 order by s.sold_on, l.sale_id, l.line_no
"""
_COUNT: Final = """
update item set version = version + 1, quantity = (
         select coalesce(sum(quantity), 0) from batch where shop_id = $1 and item_id = $2)
 where shop_id = $1 and id = $2
"""

_BATCHES: Final = Rows(batch, Batch)
find_batch = _BATCHES.find
lock_batch = _BATCHES.lock
# After each of these three `recount` has to follow.
add_batch = _BATCHES.add
change_batch = _BATCHES.change
remove_batch = _BATCHES.remove


async def batches_of(con: Connection, shop_id: UUID, item_id: UUID) -> list[Batch]:
    """Read an item's batches by the day they came in."""
    return await _OF.all(con, shop_id=shop_id, item_id=item_id)


async def sold_of(con: Connection, shop_id: UUID, item_id: UUID) -> list[SoldLine]:
    """Read what was sold of an item and not returned, by day."""
    return [SoldLine(*row) for row in await con.fetch(_SOLD, shop_id, item_id)]


async def recount(con: Connection, shop_id: UUID, item_id: UUID) -> None:
    """Let an item have the pieces of its batches, and every sale of it cost their average."""
    await con.execute(_COUNT, shop_id, item_id)
    await con.execute("select average_costs($1, $2)", shop_id, item_id)
