"""Read an import, and notice one whose process died."""

from __future__ import annotations

import datetime as dt
from typing import Final
from uuid import UUID

from stallkeep.store import imports
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import scope
from stallkeep.store.held_names import IS_FREE
from stallkeep.work.import_errors import ImportNotFoundError

INTERRUPTED: Final = {
    "code": "interrupted",
    "detail": "The import was interrupted and nothing of the file was taken; send it again.",
}


def name_of(import_id: UUID) -> str:
    """What the process that takes a file in holds in the database, for as long as it lives."""
    return f"import/{import_id}"


async def read_import(pool: Pool, shop_id: UUID, import_id: UUID) -> imports.Import:
    """Read one import.

    Raises:
        ImportNotFoundError: The shop has no such import.
    """
    async with scope(pool, shop_id) as con:
        record = await imports.find_import(con, shop_id, import_id)
        if record is None:
            raise ImportNotFoundError("There is no such import in this shop")
        return await _settled(con, shop_id, record)


async def list_imports(
    pool: Pool, shop_id: UUID, limit: int, after: tuple[dt.datetime, UUID] | None
) -> list[imports.Import]:
    """List imports, newest first, one more than *limit* if there are."""
    async with scope(pool, shop_id) as con:
        found = await imports.list_imports(con, shop_id, limit, after)
        return [await _settled(con, shop_id, record) for record in found]


async def settle_dead_imports(pool: Pool, shop_id: UUID) -> list[imports.Import]:
    """Mark imports whose process died; nothing of their files was taken. Returns those."""
    async with scope(pool, shop_id) as con:
        running = await imports.running_imports(con, shop_id)
        settled = [await _settled(con, shop_id, record) for record in running]
    return [record for record in settled if record.state == "failed"]


async def _settled(con: Connection, shop_id: UUID, record: imports.Import) -> imports.Import:
    if record.state != "running" or not await con.fetchval(IS_FREE, name_of(record.id)):
        return record
    values = {"state": "failed", "problem": INTERRUPTED, "finished_at": dt.datetime.now(dt.UTC)}
    fresh = await imports.lock_import(con, shop_id, record.id)
    if fresh is None or fresh.state != "running":
        return fresh or record
    return await imports.change_import(con, shop_id, record.id, values)
