"""See conflicts, and say that they are dealt with."""

from __future__ import annotations

from uuid import UUID

from stallkeep.store import conflicts
from stallkeep.store.connection import Connection
from stallkeep.work.stock_errors import ConflictNotFoundError


async def read_conflict(con: Connection, shop_id: UUID, conflict_id: UUID) -> conflicts.Conflict:
    """Read one conflict.

    Raises:
        ConflictNotFoundError: The shop has none with this id.
    """
    found = await conflicts.find_conflict(con, shop_id, conflict_id)
    if found is None:
        raise ConflictNotFoundError(f"There is no conflict {conflict_id}")
    return found


async def settle_conflict(
    con: Connection, shop_id: UUID, conflict_id: UUID, said_by: str
) -> conflicts.Conflict:
    """Say that a person has dealt with it; the first who says so is kept.

    Raises:
        ConflictNotFoundError: The shop has none with this id.
    """
    settled = await conflicts.settle_conflict(con, shop_id, conflict_id, said_by)
    return settled or await read_conflict(con, shop_id, conflict_id)
