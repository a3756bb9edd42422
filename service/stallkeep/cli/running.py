"""What every command needs: the database running, migrated, and a pool open on it."""

from __future__ import annotations

import asyncio
import signal
import sys
from collections.abc import Awaitable, Callable
from typing import TypeVar

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

    signal.signal(signal.SIGTERM, stop)
    hangup = getattr(signal, "SIGHUP", None)  # not on every system
    if hangup is not None and signal.getsignal(hangup) == signal.SIG_DFL:
        signal.signal(hangup, stop)
    with database(settings) as found:
        return asyncio.run(_work(settings, found, work))


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
