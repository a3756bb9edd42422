"""Carry out a request at most once for each key, and repeat its answer after that."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from uuid import UUID

from stallkeep.domain.errors import KeyInUseError, KeyReusedError, StallkeepError, UnavailableError
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import scope
from stallkeep.store.kept_answers import Answer, find_answer, keep_answer, lock_key

__all__ = ["Answer", "answer_once"]


async def answer_once(
    pool: Pool,
    shop_id: UUID,
    key: str,
    request_sha256: bytes,
    *,
    do: Callable[[Connection], Awaitable[Answer]],
    refuse: Callable[[StallkeepError], Answer],
) -> Answer:
    """Run *do* and keep its answer in the same transaction, or give the answer kept before.

    A refusal is kept too, once everything *do* wrote is taken back; only "unavailable" is not.

    Raises:
        KeyInUseError: A request with this key is running.
        KeyReusedError: The key was used for another request.
    """
    async with scope(pool, shop_id) as con:
        if not await lock_key(con, shop_id, key):
            raise KeyInUseError("A request with this Idempotency-Key is still running")
        kept = await find_answer(con, shop_id, key)
        if kept is None:
            answer = await _first_time(con, do, refuse)
            await keep_answer(con, shop_id, key, request_sha256, answer)
            return answer
        if kept.request_sha256 != request_sha256:
            raise KeyReusedError("This Idempotency-Key came with another request before")
        return kept.answer()


async def _first_time(
    con: Connection,
    do: Callable[[Connection], Awaitable[Answer]],
    refuse: Callable[[StallkeepError], Answer],
) -> Answer:
    await con.execute("savepoint work")
    try:
        return await do(con)
    except UnavailableError:
        raise
    except StallkeepError as error:
        await con.execute("rollback to savepoint work")
        return refuse(error)
