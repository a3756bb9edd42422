"""What every command needs: the database running, migrated, and a pool open on it."""

from __future__ import annotations

import asyncio
import signal
import sys
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from contextlib import suppress
from typing import Any, TypeVar

from stallkeep.config import Settings
from stallkeep.store.connection import Pool
from stallkeep.store.database import Database, database
from stallkeep.store.engine import open_pool
from stallkeep.store.migrate import migrate, refuse_outdated

T = TypeVar("T")


def run(
    settings: Settings,
    work: Callable[[Pool, Database], Awaitable[T]],
    *,
    may_be_stopped: bool = False,
) -> T:
    """Start the database, bring it up to date, and do *work* with a pool on it.

    A request to end (SIGTERM, or a terminal that is closed) unwinds like an error, so that the
    embedded database is stopped. A service may be stopped: that is its end. Work that was stopped
    is not done, and must not look as if it were.

    Raises:
        KeyboardInterrupt: It was stopped and may not be.
    """

    def stop(*_: object) -> None:
        if may_be_stopped:
            sys.exit(0)
        raise KeyboardInterrupt

    ends = [signal.SIGTERM]
    hangup = getattr(signal, "SIGHUP", None)  # not on every system
    if hangup is not None and signal.getsignal(hangup) == signal.SIG_DFL:
        ends.append(hangup)
    for end in ends:
        signal.signal(end, stop)
    with database(settings) as found:
        if may_be_stopped:
            return asyncio.run(_work(settings, found, work))
        try:
            return asyncio.run(_until_stopped(ends, _work(settings, found, work)))
        except asyncio.CancelledError:
            raise KeyboardInterrupt from None


async def _until_stopped(ends: Sequence[signal.Signals], work: Coroutine[Any, Any, T]) -> T:
    """Have a request to end cancel *work* between two steps of the loop.

    An error raised wherever the loop happens to be could leave the driver in the middle of a
    message, and its connection waiting.
    """
    task = asyncio.ensure_future(work)
    with suppress(NotImplementedError):  # not on every system
        for end in ends:
            asyncio.get_running_loop().add_signal_handler(end, task.cancel)
    return await task


async def _work(
    settings: Settings, found: Database, work: Callable[[Pool, Database], Awaitable[T]]
) -> T:
    if found.admin_url is not None:
        await migrate(found.admin_url, app_url=found.app_url)
    async with open_pool(found.app_url, role=found.app_role, max_size=settings.pool_size) as pool:
        if found.admin_url is None:
            async with pool.acquire() as con:
                await refuse_outdated(con)
        return await work(pool, found)
