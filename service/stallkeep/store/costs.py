"""Costs: of an event, or of the shop in general."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Final
from uuid import UUID

import msgspec
from sqlalchemy import bindparam

from stallkeep.store.connection import Connection
from stallkeep.store.lists import KeysetList
from stallkeep.store.statements import add_row, change_row, find_by_id, remove_by_id
from stallkeep.store.tables import cost


class Cost(msgspec.Struct, frozen=True, gc=False):
    """Money spent, tax included; minus is money given back. `tax_minor` is the part that is tax."""

    id: UUID
    event_id: UUID | None
    kind: str
    amount_minor: int
    tax_minor: int | None
    spent_on: dt.date | None
    note: str | None
    import_id: UUID | None
    created_at: dt.datetime
    version: int


_FIND: Final = find_by_id(cost, Cost)
_LOCK: Final = find_by_id(cost, Cost, lock=True)
_ADD: Final = add_row(cost, Cost)
_CHANGE: Final = change_row(cost, Cost)
_REMOVE: Final = remove_by_id(cost)
_LIST: Final = KeysetList(
    cost,
    Cost,
    (cost.c.id,),
    {
        "event_id": cost.c.event_id == bindparam("event_id"),
        "kind": cost.c.kind == bindparam("kind"),
    },
)


async def find_cost(con: Connection, shop_id: UUID, cost_id: UUID) -> Cost | None:
    """Read one cost."""
    return await _FIND.first(con, shop_id=shop_id, id=cost_id)


async def lock_cost(con: Connection, shop_id: UUID, cost_id: UUID) -> Cost | None:
    """Read one cost; nobody changes it until the transaction ends."""
    return await _LOCK.first(con, shop_id=shop_id, id=cost_id)


async def list_costs(
    con: Connection,
    shop_id: UUID,
    filters: Mapping[str, object],
    *,
    after: Sequence[object] | None,
    limit: int,
) -> list[Cost]:
    """Read the costs entered last first; filters are event_id and kind."""
    return await _LIST.read(con, shop_id, filters, after=after, limit=limit)


async def add_cost(con: Connection, values: Mapping[str, object]) -> Cost:
    """Write a new cost."""
    return await _ADD.one(con, values)


async def change_cost(
    con: Connection, shop_id: UUID, cost_id: UUID, values: Mapping[str, object]
) -> Cost:
    """Change the columns named in *values*."""
    return await _CHANGE.one(con, values, shop_id=shop_id, id=cost_id)


async def remove_cost(con: Connection, shop_id: UUID, cost_id: UUID) -> None:
    """Delete a cost."""
    await _REMOVE.execute(con, shop_id=shop_id, id=cost_id)
