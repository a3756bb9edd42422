"""Take one file in: all of it or nothing, exactly once, every row accounted for."""

from __future__ import annotations

import asyncio
import datetime as dt
import hashlib
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any, BinaryIO, Final
from uuid import UUID
from weakref import WeakKeyDictionary

from stallkeep.domain.errors import StallkeepError
from stallkeep.store import imports
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import read_scope, scope
from stallkeep.store.ids import new_id
from stallkeep.store.shops import Shop
from stallkeep.work.import_order import (
    HowFar,
    ImportOrder,
    Upload,
    options_for,
    sample_of,
    told,
    unseen,
)
from stallkeep.work.intake_run import IntakeRun
from stallkeep.work.known_layout import importer_for
from stallkeep_importers.contract import Importer, ImportStop

__all__ = ["ImportOrder", "Upload", "import_file", "options_for", "sample_of", "told"]

AT_ONCE: Final = 3
"""Files taken in at the same time by one process; each holds two connections."""

_slots: WeakKeyDictionary[asyncio.AbstractEventLoop, asyncio.Semaphore] = WeakKeyDictionary()


async def import_file(
    pool: Pool,
    shop: Shop,
    upload: Upload,
    order: ImportOrder,
    show: Callable[[HowFar], None] = unseen,
) -> imports.Import:
    """Take a file in, in one database transaction; *show* is told how far it has come.

    Returns:
        The import with its counts: rows read = taken + known + rejected + skipped.

    Raises:
        ImportQuestionError: The file can be read in two ways; nothing was taken.
        ImportRefusedError: The file is not one that can be taken in; nothing was taken.
        ImporterFailedError: The importer broke; nothing was taken.
        PlaceNeededError: Rows belong to a channel, and none was named.
    """
    slot = _slots.setdefault(asyncio.get_running_loop(), asyncio.Semaphore(AT_ONCE))
    async with slot:
        options = options_for(shop, upload.name, order.answers)
        async with read_scope(pool, shop.shop_id) as con:
            importer = await importer_for(con, shop, order.importer, upload.file, options)
        async with _recorded(pool, shop, upload, order, importer) as (con, record):
            show(HowFar(record.id, 0, 0, upload.size))
            run = IntakeRun(pool, con, shop, record, order, show)
            try:
                await run.run(importer, upload, options)
            except ImportStop as stop:
                raise told(stop, record.id) from stop
            return await run.finish()


def _digest(file: BinaryIO) -> bytes:
    file.seek(0)
    digest = hashlib.file_digest(file, "sha256").digest()  # type: ignore[arg-type]  # has readinto
    file.seek(0)
    return digest


@asynccontextmanager
async def _recorded(
    pool: Pool, shop: Shop, upload: Upload, order: ImportOrder, importer: Importer
) -> AsyncIterator[tuple[Connection, imports.Import]]:
    """Open the import's transaction and keep a record of the attempt, whatever becomes of it.

    The transaction holds a lock named after the import while it lives; a record that says
    "running" and whose lock is free belongs to a process that died (`settle_dead_imports`).
    """
    import_id = new_id()
    values = {
        "shop_id": shop.shop_id,
        "id": import_id,
        "importer": importer.name,
        "channel_id": order.channel_id,
        "event_id": order.event_id,
        "file_name": upload.name,
        "file_sha256": await asyncio.to_thread(_digest, upload.file),
        "file_bytes": upload.size,
        "state": "running",
        "options": dict(order.answers),
    }
    try:
        async with scope(pool, shop.shop_id) as con:
            await con.execute(LOCK_IMPORT, f"import/{import_id}")
            async with scope(pool, shop.shop_id) as other:
                record = await imports.start_import(other, values)
            yield con, record
    except BaseException as error:
        await asyncio.shield(_note_failure(pool, shop, import_id, error))
        raise


LOCK_IMPORT: Final = "select pg_advisory_xact_lock(hashtextextended($1, 0))"


async def _note_failure(pool: Pool, shop: Shop, import_id: UUID, error: BaseException) -> None:
    problem: dict[str, Any] = {"code": "interrupted", "detail": "It was interrupted; nothing taken"}
    if isinstance(error, StallkeepError):
        facts = {key: value for key, value in error.facts.items() if key != "import_id"}
        problem = {"code": error.code, "title": error.title, "detail": error.detail, **facts}
    values = {"state": "failed", "problem": problem, "finished_at": dt.datetime.now(dt.UTC)}
    async with scope(pool, shop.shop_id) as con:
        if await imports.find_import(con, shop.shop_id, import_id) is not None:
            await imports.change_import(con, shop.shop_id, import_id, values)
