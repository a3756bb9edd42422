"""Conflicts: what contradicts itself and a person has to see."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Final
from uuid import UUID

import msgspec
from sqlalchemy import Text, bindparam, func

from stallkeep.store.connection import Connection
from stallkeep.store.lists import KeysetList
from stallkeep.store.query import Query
from stallkeep.store.statements import add_row, columns_of, find_by_id, this
from stallkeep.store.tables import conflict


class Conflict(msgspec.Struct, frozen=True, gc=False):
    """One contradiction; open until a person settles it."""

    id: UUID
    kind: str
    item_id: UUID | None
    transaction_id: UUID | None
    event_id: UUID | None
    detail: str
    state: str
    created_at: dt.datetime
    settled_at: dt.datetime | None
    settled_by: str | None


_FIND: Final = find_by_id(conflict, Conflict)
_ADD: Final = add_row(conflict, Conflict)
_SETTLE: Final = Query(
    conflict.update()
    .where(this(conflict), conflict.c.state == "open")
    .values(state="settled", settled_at=func.now(), settled_by=bindparam("said_by", type_=Text()))
    .returning(*columns_of(conflict, Conflict)),
    Conflict,
)

_LIST: Final = KeysetList(
    conflict,
    Conflict,
    (conflict.c.created_at, conflict.c.id),
    {
        "state": {word: conflict.c.state == word for word in ("open", "settled")},
        "event_id": conflict.c.event_id == bindparam("event_id"),
    },
)
list_conflicts = _LIST.read
"""Read the newest conflicts first; the filters are state and event_id."""


async def find_conflict(con: Connection, shop_id: UUID, conflict_id: UUID) -> Conflict | None:
    """Read one conflict."""
    return await _FIND.first(con, shop_id=shop_id, id=conflict_id)


async def add_conflict(con: Connection, values: Mapping[str, object]) -> Conflict:
    """Write a new conflict."""
    return await _ADD.one(con, values)


async def settle_conflict(
    con: Connection, shop_id: UUID, conflict_id: UUID, said_by: str
) -> Conflict | None:
    """Say that a person has dealt with it; None when it was settled before."""
    return await _SETTLE.first(con, shop_id=shop_id, id=conflict_id, said_by=said_by)
