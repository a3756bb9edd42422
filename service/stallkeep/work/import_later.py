"""Take a file in while the asker goes on: after a while it is answered, finished or not."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from typing import Any
from uuid import UUID
from weakref import WeakKeyDictionary

from stallkeep.store import imports
from stallkeep.store.connection import Pool
from stallkeep.store.shops import Shop
from stallkeep.work.import_file import import_file
from stallkeep.work.import_order import HowFar, ImportOrder, Upload
from stallkeep.work.read_import import read_import

_Task = asyncio.Task[imports.Import]
_under_way: WeakKeyDictionary[asyncio.AbstractEventLoop, set[_Task]] = WeakKeyDictionary()


async def import_later(
    pool: Pool, shop: Shop, upload: Upload, order: ImportOrder, wait_seconds: float
) -> imports.Import:
    """Begin to take a file in, which is closed in the end, and wait for a while.

    Returns:
        The import as it stands then: done, or running, with an end to be read from it later.

    Raises:
        StallkeepError: As `import_file` says, where it fails within that time or does not begin.
    """
    begun: asyncio.Future[UUID] = asyncio.get_running_loop().create_future()

    def show(come: HowFar) -> None:
        if not begun.done():
            begun.set_result(come.import_id)

    task = _kept(_closing(upload, import_file(pool, shop, upload, order, show)))
    either: set[asyncio.Future[Any]] = {task, begun}
    await asyncio.wait(either, return_when=asyncio.FIRST_COMPLETED)
    await asyncio.wait({task}, timeout=wait_seconds)
    if task.done():
        return task.result()
    return await read_import(pool, shop.shop_id, begun.result())


async def end_imports() -> None:
    """Stop what is under way in this process; nothing of those files is taken."""
    tasks = _under_way.pop(asyncio.get_running_loop(), set())
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


async def _closing(upload: Upload, work: Coroutine[Any, Any, imports.Import]) -> imports.Import:
    with upload.file:
        return await work


def _kept(work: Coroutine[Any, Any, imports.Import]) -> _Task:
    """Run it; the loop itself holds tasks only weakly."""
    tasks = _under_way.setdefault(asyncio.get_running_loop(), set())
    task = asyncio.create_task(work)
    tasks.add(task)
    task.add_done_callback(_end)
    return task


def _end(task: _Task) -> None:
    _under_way.get(task.get_loop(), set()).discard(task)
    if not task.cancelled():
        task.exception()  # what became of it is written down with the import
