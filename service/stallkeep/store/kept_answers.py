"""Answers kept under the Idempotency-Key of the request they answered."""

from __future__ import annotations

from typing import Final
from uuid import UUID

import msgspec
from sqlalchemy import bindparam, select, text

from stallkeep.store.connection import Connection
from stallkeep.store.query import Query, only
from stallkeep.store.statements import columns_of, here
from stallkeep.store.tables import kept_answer


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """An answer as it went over the wire."""

    status: int
    headers: dict[str, str]
    body: bytes


class KeptAnswer(msgspec.Struct, frozen=True):
    """An answer and the hash of the request it was for."""

    request_sha256: bytes
    status: int
    headers: dict[str, str]
    body: bytes

    def answer(self) -> Answer:
        """Give the answer alone."""
        return Answer(status=self.status, headers=self.headers, body=self.body)


_LOCK: Final = Query(
    text("select pg_try_advisory_xact_lock(hashtextextended(:key, 0))"), only(bool)
)
_FIND: Final = Query(
    select(*columns_of(kept_answer, KeptAnswer)).where(
        here(kept_answer), kept_answer.c.key == bindparam("key")
    ),
    KeptAnswer,
)
_COLUMNS = ("shop_id", "key", "request_sha256", "status", "headers", "body")
_KEEP: Final = Query(kept_answer.insert().values({name: bindparam(name) for name in _COLUMNS}))


async def lock_key(con: Connection, shop_id: UUID, key: str) -> bool:
    """Take the key until the transaction ends; False when another request has it."""
    return await _LOCK.one(con, key=f"{shop_id}/answer/{key}")


async def find_answer(con: Connection, shop_id: UUID, key: str) -> KeptAnswer | None:
    """Read what was answered under this key."""
    return await _FIND.first(con, shop_id=shop_id, key=key)


async def keep_answer(
    con: Connection, shop_id: UUID, key: str, request_sha256: bytes, answer: Answer
) -> None:
    """Write down what was answered."""
    await _KEEP.execute(
        con,
        shop_id=shop_id,
        key=key,
        request_sha256=request_sha256,
        status=answer.status,
        headers=answer.headers,
        body=answer.body,
    )
