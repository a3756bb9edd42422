"""Idempotency-Key: a request sent twice is carried out once and answered alike.

The answer is kept in the transaction that did the work, so there is no moment at which one is
stored without the other. The header is that of the IETF draft "The Idempotency-Key HTTP Header
Field" of 2025-02; its quotes may be left out.
"""

from __future__ import annotations

import hashlib
from collections.abc import Awaitable, Callable
from typing import Annotated, Any

import msgspec
from litestar import Response
from litestar.di import NamedDependency
from litestar.exceptions import ClientException
from litestar.params import HeaderParameter

from stallkeep.api.auth import Caller
from stallkeep.api.problems import known
from stallkeep.api.strictness import StrictRequest
from stallkeep.store.connection import Connection
from stallkeep.work.answer_once import Answer, answer_once

Do = Callable[[Connection], Awaitable[Response[Any]]]

IdempotencyKey = Annotated[
    str | None,
    HeaderParameter(
        name="Idempotency-Key",
        max_length=200,
        schema_extra={"pattern": r'^"?[^"\s]'},
        description="Any text of yours, new for each thing you do; the same text does it once",
    ),
]


class Once:
    """Runs the work of a POST in one transaction, at most once for each key."""

    def __init__(self, caller: Caller, request: StrictRequest, key: str | None) -> None:
        self._caller = caller
        self._request = request
        self._key = key

    async def __call__(self, do: Do) -> Response[Any]:
        """Open the shop's scope, run *do* in it, and keep or repeat its answer.

        Raises:
            KeyInUseError: The same key is being worked on right now.
            KeyReusedError: The key came with another request before.
        """
        if self._key is None:
            async with self._caller.scope() as con:
                return await do(con)

        async def kept(con: Connection) -> Answer:
            return _answer(await do(con))

        answer = await answer_once(
            self._caller.pool,
            self._caller.shop.shop_id,
            self._key,
            await self._fingerprint(),
            do=kept,
            refuse=lambda error: _answer(known(self._request, error)),
        )
        return _response(answer)

    async def _fingerprint(self) -> bytes:
        request = self._request
        said = f"{request.method} {request.url.path}?{request.url.query}\n".encode()
        return hashlib.sha256(said + await request.body()).digest()


def _answer(response: Response[Any]) -> Answer:
    content = response.content
    body = content if isinstance(content, bytes) else msgspec.json.encode(content)
    return Answer(
        status=response.status_code or 201,
        headers={
            **response.headers,
            "content-type": str(response.media_type or "application/json"),
        },
        body=body,
    )


def _response(answer: Answer) -> Response[Any]:
    headers = {name: value for name, value in answer.headers.items() if name != "content-type"}
    return Response(
        answer.body,
        status_code=answer.status,
        media_type=answer.headers["content-type"],
        headers=headers,
    )


async def once(
    request: StrictRequest,
    caller: NamedDependency[Caller],
    idempotency_key: IdempotencyKey = None,
) -> Once:
    """Give a POST its way to be carried out once.

    Raises:
        ClientException: The key is empty.
    """
    key = idempotency_key.strip().strip('"') if idempotency_key is not None else None
    if key == "":
        raise ClientException("Idempotency-Key is empty")
    return Once(caller, request, key)
