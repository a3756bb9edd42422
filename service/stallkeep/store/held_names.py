"""Names that a process holds in the database for as long as it lives, however it ends."""

from __future__ import annotations

import asyncio
from contextlib import AsyncExitStack, suppress
from typing import Final

from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import DatabaseUnavailableError, is_gone, telling_loss

HOLD: Final = "select pg_advisory_xact_lock_shared(hashtextextended($1, 0))"
"""Hold a name until the transaction ends."""

IS_FREE: Final = "select pg_try_advisory_xact_lock(hashtextextended($1, 0))"
"""Whether nobody holds a name; if so, nobody comes to hold it until the transaction ends."""

_KEEP: Final = """
select pg_advisory_lock_shared(hashtextextended(name, 0)) from unnest($1::text[]) as name
"""
_DROP: Final = "select pg_advisory_unlock_shared(hashtextextended($1, 0))"
_DROP_ALL: Final = "select pg_advisory_unlock_all()"


class HeldNames:
    """Holds names outside any transaction, all on one connection, borrowed while there are any.

    They are held shared: whoever holds one here may hold it in a transaction too, and only one
    who asks whether it is free is told that it is not.
    """

    def __init__(self, pool: Pool) -> None:
        self._pool = pool
        self._names: set[str] = set()
        self._con: Connection | None = None
        self._borrowed = AsyncExitStack()
        self._one_at_a_time = asyncio.Lock()

    async def keep(self, name: str) -> None:
        """Hold a name from now on; those of a lost connection are held again.

        Raises:
            DatabaseUnavailableError: The database does not answer; the name is not held.
        """
        async with self._one_at_a_time:
            with telling_loss():
                if self._con is None or is_gone(self._con):
                    await self._give_back()
                    self._con = await self._borrowed.enter_async_context(self._pool.acquire())
                    await self._con.fetch(_KEEP, sorted(self._names))
                await self._con.fetch(_KEEP, [name])
            self._names.add(name)

    async def drop(self, name: str) -> None:
        """Hold a name no longer."""
        async with self._one_at_a_time:
            self._names.discard(name)
            if self._names:
                await self._ask(_DROP, name)
            else:
                await self._give_back()

    async def _give_back(self) -> None:
        await self._ask(_DROP_ALL)
        self._con = None
        with suppress(DatabaseUnavailableError), telling_loss():
            await self._borrowed.aclose()

    async def _ask(self, question: str, *values: object) -> None:
        """Where the connection is lost, so are the names it held: there is nothing left to do."""
        with suppress(DatabaseUnavailableError), telling_loss():
            if self._con is not None:
                await self._con.fetch(question, *values)
