"""Take a file in while the asker goes on: after a while it is answered, finished or not.

A file is accepted whatever is running: it is kept, its record is written and says "running", and
it waits for its turn. When the service stops, what has not come to its end is failed, and its
record says so at once; when the service is killed, it is found out by whoever reads the record.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Coroutine
from contextlib import asynccontextmanager
from typing import Any, Final
from weakref import WeakKeyDictionary

import structlog

from stallkeep.domain.errors import StallkeepError
from stallkeep.store import imports
from stallkeep.store.connection import Pool
from stallkeep.store.held_names import HeldNames
from stallkeep.store.shops import Shop
from stallkeep.work.import_errors import TooManyWaitingError
from stallkeep.work.import_file import (
    Known,
    import_written_down,
    noting_failure,
    recognised,
    write_down,
)
from stallkeep.work.import_order import ImportOrder, Upload
from stallkeep.work.read_import import name_of, read_import

MOST_AT_A_TIME: Final = 100
"""Files accepted by one process and not ended yet; each keeps a file open."""

log = structlog.get_logger()

_Task = asyncio.Task[imports.Import]
_Loop = asyncio.AbstractEventLoop
_under_way: WeakKeyDictionary[_Loop, set[_Task]] = WeakKeyDictionary()
_names: WeakKeyDictionary[_Loop, dict[Pool, HeldNames]] = WeakKeyDictionary()


async def import_later(
    pool: Pool, shop: Shop, upload: Upload, order: ImportOrder, wait_seconds: float
) -> imports.Import:
    """Accept a file, which is closed in the end, and wait for a while.

    Returns:
        The import as it stands then: done, or running, with an end to be read from it later.

    Raises:
        TooManyWaitingError: `MOST_AT_A_TIME` files are accepted and not ended.
        StallkeepError: As `import_file` says, where it is not accepted or fails within that time.
    """
    accepted: asyncio.Future[Known] = asyncio.get_running_loop().create_future()
    task = _kept(_carried_out(pool, shop, upload, order, accepted))
    either: set[asyncio.Future[Any]] = {task, accepted}
    await asyncio.wait(either, return_when=asyncio.FIRST_COMPLETED)
    await asyncio.wait({task}, timeout=wait_seconds)
    if not task.done():
        record = await read_import(pool, shop.shop_id, accepted.result().import_id)
        if record.state == "running":
            return record
    return await task


async def end_imports() -> None:
    """Stop what is under way in this process; nothing of those files is taken."""
    tasks = _under_way.pop(asyncio.get_running_loop(), set())
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


async def _carried_out(
    pool: Pool, shop: Shop, upload: Upload, order: ImportOrder, accepted: asyncio.Future[Known]
) -> imports.Import:
    with upload.file:
        if len(_tasks()) > MOST_AT_A_TIME:
            raise TooManyWaitingError(
                f"{MOST_AT_A_TIME} files are waiting to be taken in; send this one again later"
            )
        known = await recognised(pool, shop, upload, order)
        async with _name_held(pool, name_of(known.import_id)), noting_failure(pool, shop, known):
            await write_down(pool, shop, known)
            accepted.set_result(known)
            return await import_written_down(pool, shop, upload, order, known)


@asynccontextmanager
async def _name_held(pool: Pool, name: str) -> AsyncIterator[None]:
    of_pools = _names.setdefault(asyncio.get_running_loop(), {})
    names = of_pools.setdefault(pool, HeldNames(pool))
    await names.keep(name)
    try:
        yield
    finally:
        await asyncio.shield(names.drop(name))


def _tasks() -> set[_Task]:
    return _under_way.setdefault(asyncio.get_running_loop(), set())


def _kept(work: Coroutine[Any, Any, imports.Import]) -> _Task:
    """Run it; the loop itself holds tasks only weakly."""
    task = asyncio.create_task(work)
    _tasks().add(task)
    task.add_done_callback(_end)
    return task


def _end(task: _Task) -> None:
    _under_way.get(task.get_loop(), set()).discard(task)
    error = None if task.cancelled() else task.exception()
    if error is not None and not isinstance(error, StallkeepError):
        log.error("import_failed", exc_info=error)  # others are written down with the import
