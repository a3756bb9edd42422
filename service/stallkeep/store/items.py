"""Items: the pieces in stock and those that were."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Final
from uuid import UUID

import msgspec
from sqlalchemy import ARRAY, Text, Uuid, any_, bindparam, select

from stallkeep.store.connection import Connection
from stallkeep.store.lists import KeysetList
from stallkeep.store.query import Query, only
from stallkeep.store.rows import Rows
from stallkeep.store.statements import columns_of, here
from stallkeep.store.tables import item


class Item(msgspec.Struct, frozen=True, gc=False):
    """One piece, or several alike. `sold` of `quantity` are gone; amounts in minor units."""

    id: UUID
    tag_code: str
    title: str
    category: str | None
    size: str | None
    note: str | None
    quantity: int
    sold: int
    price_minor: int | None
    floor_minor: int | None
    cost_minor: int | None
    acquired_on: dt.date | None
    reserved_until: dt.date | None
    margin_scheme: bool
    import_id: UUID | None
    created_at: dt.datetime
    version: int

    @property
    def left(self) -> int:
        """Pieces not yet sold."""
        return self.quantity - self.sold


_CODES: Final = bindparam("codes", type_=ARRAY(Text()))
_IDS: Final = bindparam("ids", type_=ARRAY(Uuid()))
_TAKEN: Final = Query(
    select(item.c.tag_code).where(here(item), item.c.tag_code == any_(_CODES)), only(str)
)
# Always in the order of ids, so that two sales of the same pieces wait and never lock each other.
_NAMED: Final = select(*columns_of(item, Item)).where(
    here(item), (item.c.tag_code == any_(_CODES)) | (item.c.id == any_(_IDS))
)
_FIND_NAMED: Final = Query(_NAMED, Item)
_LOCK_NAMED: Final = Query(_NAMED.order_by(item.c.id).with_for_update(), Item)

_ITEMS: Final = Rows(item, Item)
find_item = _ITEMS.find
lock_item = _ITEMS.lock
add_item = _ITEMS.add
change_item = _ITEMS.change
remove_item = _ITEMS.remove
"""Only an item that nothing refers to."""

_LIST: Final = KeysetList(
    item,
    Item,
    (item.c.created_at, item.c.id),
    {
        "code": item.c.tag_code.op("^@", is_comparison=True)(bindparam("code", type_=Text())),
        "category": item.c.category == bindparam("category"),
        "state": {
            "in_stock": item.c.sold < item.c.quantity,
            "sold": item.c.sold >= item.c.quantity,
        },
    },
)
list_items = _LIST.read
"""Read the newest items first; filters are code (a prefix), category and state."""


async def find_items(
    con: Connection, shop_id: UUID, *, codes: Iterable[str] = (), ids: Iterable[UUID] = ()
) -> list[Item]:
    """Read the items that have one of these tag codes or ids."""
    return await _FIND_NAMED.all(con, shop_id=shop_id, codes=list(codes), ids=list(ids))


async def lock_items(
    con: Connection, shop_id: UUID, *, codes: Iterable[str] = (), ids: Iterable[UUID] = ()
) -> list[Item]:
    """Read them as `find_items` does; nobody changes them until the transaction ends."""
    return await _LOCK_NAMED.all(con, shop_id=shop_id, codes=list(codes), ids=list(ids))


async def taken_codes(con: Connection, shop_id: UUID, codes: Sequence[str]) -> set[str]:
    """Tell which of these tag codes the shop uses."""
    return set(await _TAKEN.all(con, shop_id=shop_id, codes=list(codes)))
