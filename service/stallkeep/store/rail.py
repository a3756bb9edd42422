"""The rail of an event, its stock count, and the stubs kept there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Final
from uuid import UUID

import msgspec
from sqlalchemy import ARRAY, Column, Uuid, all_, bindparam, select
from sqlalchemy.dialects.postgresql import insert

from stallkeep.store.connection import Connection
from stallkeep.store.query import Query
from stallkeep.store.statements import columns_of, here
from stallkeep.store.tables import item, rail, stub


class RailPiece(msgspec.Struct, frozen=True, gc=False):
    """An item taken to an event; `price_minor` is the event's own price where it has one."""

    item_id: UUID
    quantity: int
    price_minor: int | None
    put_out_at: dt.datetime | None
    counted_home: int | None
    tag_code: str
    title: str
    usual_price_minor: int | None


class Stub(msgspec.Struct, frozen=True, gc=False):
    """One kept stub: the code as read, and the price written on it."""

    day: dt.date
    position: int
    tag_code: str
    price_minor: int | None
    ordered: bool


_THIS_RAIL: Final = here(rail) & (rail.c.event_id == bindparam("event_id"))
_SHOWN: Final[list[Column[object]]] = [
    *(rail.c[name] for name in RailPiece.__struct_fields__[:5]),
    item.c.tag_code,
    item.c.title,
]
_READ: Final = Query(
    select(*_SHOWN, item.c.price_minor.label("usual_price_minor"))
    .join(item, (item.c.shop_id == rail.c.shop_id) & (item.c.id == rail.c.item_id))
    .where(_THIS_RAIL)
    .order_by(item.c.tag_code),
    RailPiece,
)
_COLUMNS: Final = ("shop_id", "event_id", "item_id", "quantity", "price_minor", "put_out_at")
_NEW = insert(rail).values({name: bindparam(name) for name in _COLUMNS})
_PUT: Final = Query(
    _NEW.on_conflict_do_update(
        index_elements=["shop_id", "event_id", "item_id"],
        set_={name: _NEW.excluded[name] for name in ("quantity", "price_minor", "put_out_at")},
    )
)
_LEAVE: Final = Query(
    rail.delete().where(
        _THIS_RAIL, rail.c.item_id != all_(bindparam("item_ids", type_=ARRAY(Uuid())))
    )
)
_UNCOUNT: Final = Query(rail.update().where(_THIS_RAIL).values(counted_home=None))
_COUNT: Final = Query(
    rail.update()
    .where(_THIS_RAIL, rail.c.item_id == bindparam("item_id"))
    .values(counted_home=bindparam("new_counted_home"))
)
_THESE_STUBS: Final = here(stub) & (stub.c.event_id == bindparam("event_id"))
_STUBS: Final = Query(
    select(*columns_of(stub, Stub)).where(_THESE_STUBS).order_by(stub.c.day, stub.c.position), Stub
)
_CLEAR_STUBS: Final = Query(stub.delete().where(_THESE_STUBS))
_ADD_STUB: Final = Query(
    stub.insert().values(
        {name: bindparam(name) for name in ("shop_id", "event_id", *Stub.__struct_fields__)}
    )
)


async def rail_of(con: Connection, shop_id: UUID, event_id: UUID) -> list[RailPiece]:
    """Read the rail in the order of tag codes."""
    return await _READ.all(con, shop_id=shop_id, event_id=event_id)


async def put_rail(
    con: Connection, shop_id: UUID, event_id: UUID, pieces: Iterable[Mapping[str, object]]
) -> None:
    """Make the rail these pieces: item_id, quantity, price_minor, put_out_at each.

    A piece that stays keeps its count.
    """
    of_event = {"shop_id": shop_id, "event_id": event_id}
    rows = [{**of_event, **piece} for piece in pieces]
    await _LEAVE.execute(con, **of_event, item_ids=[row["item_id"] for row in rows])
    await _PUT.execute_many(con, rows)


async def put_count(
    con: Connection, shop_id: UUID, event_id: UUID, counted: Mapping[UUID, int] | None
) -> None:
    """Write how many of each item came home; None takes the whole count back."""
    of_event = {"shop_id": shop_id, "event_id": event_id}
    if counted is None:
        await _UNCOUNT.execute(con, **of_event)
        return
    rows = [{**of_event, "item_id": i, "new_counted_home": n} for i, n in counted.items()]
    await _COUNT.execute_many(con, rows)


async def stubs_of(con: Connection, shop_id: UUID, event_id: UUID) -> list[Stub]:
    """Read the stubs by day and position."""
    return await _STUBS.all(con, shop_id=shop_id, event_id=event_id)


async def put_stubs(con: Connection, shop_id: UUID, event_id: UUID, stubs: Iterable[Stub]) -> None:
    """Make the event's stubs these."""
    of_event = {"shop_id": shop_id, "event_id": event_id}
    await _CLEAR_STUBS.execute(con, **of_event)
    rows = [{**of_event, **msgspec.structs.asdict(one)} for one in stubs]
    await _ADD_STUB.execute_many(con, rows)
