"""Take one file in: all of it or nothing, exactly once, every row accounted for."""

from __future__ import annotations

import asyncio
import datetime as dt
import hashlib
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from typing import Any, BinaryIO, Final
from uuid import UUID
from weakref import WeakKeyDictionary

import msgspec

from stallkeep.domain.errors import StallkeepError
from stallkeep.store import imports
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import ending_with, read_scope, scope
from stallkeep.store.held_names import HOLD
from stallkeep.store.ids import new_id
from stallkeep.store.shops import Shop
from stallkeep.work.check_place import refuse_second_place, with_place
from stallkeep.work.import_errors import ImportInterruptedError
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
from stallkeep.work.read_import import INTERRUPTED, name_of
from stallkeep_importers.contract import Importer, ImportStop

__all__ = ["ImportOrder", "Upload", "import_file", "options_for", "sample_of", "told"]

AT_ONCE: Final = 3
"""Files taken in at the same time by one process; each holds two connections."""

_slots: WeakKeyDictionary[asyncio.AbstractEventLoop, asyncio.Semaphore] = WeakKeyDictionary()


UNFORESEEN: Final = {
    "code": "failed",
    "detail": "The service failed at this file and nothing of it was taken; its log has more.",
}


async def unsealed(_: Connection, __: imports.Import) -> None:
    """Add nothing to an import."""


class Known(msgspec.Struct, frozen=True):
    """A file whose importer is known, and what its record begins with."""

    importer: Importer
    values: dict[str, Any]

    @property
    def import_id(self) -> UUID:
        """Of the import it becomes."""
        found: UUID = self.values["id"]
        return found


async def import_file(
    pool: Pool,
    shop: Shop,
    upload: Upload,
    order: ImportOrder,
    show: Callable[[HowFar], None] = unseen,
    *,
    seal: Callable[[Connection, imports.Import], Awaitable[None]] = unsealed,
) -> imports.Import:
    """Take a file in, in one database transaction.

    Args:
        pool: Where to.
        shop: The shop.
        upload: The file.
        order: What was said about it.
        show: Told how far it has come.
        seal: Does what belongs to it in the same transaction, last; its errors undo all.

    Returns:
        The import with its counts: rows read = taken + known + rejected + skipped.

    Raises:
        ImportQuestionError: The file can be read in two ways; nothing was taken.
        ImportRefusedError: The file is not one that can be taken in; nothing was taken.
        ImporterFailedError: The importer broke; nothing was taken.
        PlaceNeededError: Rows belong to a channel, and none was named.
    """
    async with turn():
        known = await recognised(pool, shop, upload, order)
        async with noting_failure(pool, shop, known), _held(pool, shop, known) as con:
            record = await write_down(pool, shop, known)
            done = await _take_in(pool, con, shop, record, known, upload, order, show)
            await seal(con, done)
            return done


async def import_written_down(
    pool: Pool, shop: Shop, upload: Upload, order: ImportOrder, known: Known
) -> imports.Import:
    """Likewise, where the record of the import is there already and its name is held.

    Raises:
        ImportInterruptedError: Somebody has found the name free and the import dead.
    """
    async with turn(), _held(pool, shop, known) as con:
        record = await imports.find_import(con, shop.shop_id, known.import_id)
        if record is None or record.state != "running":
            raise ImportInterruptedError(INTERRUPTED["detail"])
        return await _take_in(pool, con, shop, record, known, upload, order, unseen)


def turn() -> asyncio.Semaphore:
    """Wait for one's turn, first come first served."""
    return _slots.setdefault(asyncio.get_running_loop(), asyncio.Semaphore(AT_ONCE))


async def recognised(pool: Pool, shop: Shop, upload: Upload, order: ImportOrder) -> Known:
    """Find out who reads the file.

    Raises:
        ImportQuestionError: Two importers are about equally sure.
        ImportRefusedError: None takes the file for its own, or an answer is none.
        PlaceUnknownError: The shop has no such channel or event.
        PlacesDifferError: The event is on another channel than the one named.
        FileIsElsewhereError: The very file was taken in for another channel or event.
    """
    options = options_for(shop, upload.name, order.answers)
    digest = await asyncio.to_thread(digest_of, upload.file)
    async with read_scope(pool, shop.shop_id) as con:
        order = await with_place(con, shop, order)
        importer = await importer_for(con, shop, order.importer, upload.file, options)
        await refuse_second_place(con, shop, importer, order, digest)
    values = {
        "shop_id": shop.shop_id,
        "id": new_id(),
        "importer": importer.name,
        "channel_id": order.channel_id,
        "event_id": order.event_id,
        "file_name": upload.name,
        "file_sha256": digest,
        "file_bytes": upload.size,
        "state": "running",
        "options": dict(order.answers),
    }
    return Known(importer, values)


async def write_down(pool: Pool, shop: Shop, known: Known) -> imports.Import:
    """Write the record of an import, whose name must be held.

    A record that says "running" and whose name is free belongs to a process that died
    (`settle_dead_imports`).
    """
    async with scope(pool, shop.shop_id) as other:
        return await imports.start_import(other, known.values)


@asynccontextmanager
async def _held(pool: Pool, shop: Shop, known: Known) -> AsyncIterator[Connection]:
    """Open the import's transaction, which holds its name."""
    async with scope(pool, shop.shop_id) as con, ending_with(con):
        await con.execute(HOLD, name_of(known.import_id))
        yield con


async def _take_in(  # noqa: PLR0917 - all of it is one import
    pool: Pool,
    con: Connection,
    shop: Shop,
    record: imports.Import,
    known: Known,
    upload: Upload,
    order: ImportOrder,
    show: Callable[[HowFar], None],
) -> imports.Import:
    show(HowFar(record.id, 0, 0, upload.size))
    run = IntakeRun(pool, con, shop, record, order, show)
    try:
        await run.run(known.importer, upload, options_for(shop, upload.name, order.answers))
    except ImportStop as stop:
        raise told(stop, record.id) from stop
    return await run.finish()


def digest_of(file: BinaryIO) -> bytes:
    """Give the SHA-256 of a file, and put it back at its beginning."""
    file.seek(0)
    digest = hashlib.file_digest(file, "sha256").digest()  # type: ignore[arg-type]  # has readinto
    file.seek(0)
    return digest


@asynccontextmanager
async def noting_failure(pool: Pool, shop: Shop, known: Known) -> AsyncIterator[None]:
    """Write down with the import why nothing of it was taken."""
    try:
        yield
    except BaseException as error:
        await asyncio.shield(_note_failure(pool, shop, known.import_id, error))
        raise


def _problem(error: BaseException) -> dict[str, Any]:
    if isinstance(error, StallkeepError):
        facts = {key: value for key, value in error.facts.items() if key != "import_id"}
        return {"code": error.code, "title": error.title, "detail": error.detail, **facts}
    return {**(UNFORESEEN if isinstance(error, Exception) else INTERRUPTED)}


async def _note_failure(pool: Pool, shop: Shop, import_id: UUID, error: BaseException) -> None:
    values = {"state": "failed", "problem": _problem(error), "finished_at": dt.datetime.now(dt.UTC)}
    async with scope(pool, shop.shop_id) as con:
        if await imports.find_import(con, shop.shop_id, import_id) is not None:
            await imports.change_import(con, shop.shop_id, import_id, values)
