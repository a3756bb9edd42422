"""Around the framework: HEAD and OPTIONS on every path, and one log line for every request."""

from __future__ import annotations

import time
from collections.abc import MutableMapping
from typing import Any, cast

import structlog
from litestar.datastructures import Headers
from litestar.types import ASGIApp, Message, Receive, Scope, Send

from stallkeep.store.ids import new_id

log = structlog.get_logger()

_NOBODYS_METHOD = "TRACE"


def complete_methods(app: ASGIApp) -> ASGIApp:
    """Answer HEAD as GET without the body, and OPTIONS with the methods the path allows."""

    async def answer(scope: Scope, receive: Receive, send: Send) -> None:
        method = _details(scope).get("method")
        if method == "HEAD":
            await app(_as(scope, "GET"), receive, _without_body(send))
        elif method == "OPTIONS":
            await app(_as(scope, _NOBODYS_METHOD), receive, _allow_only(send))
        else:
            await app(scope, receive, _allow_all(send))

    return answer


def _details(scope: Scope) -> dict[str, Any]:
    return cast("dict[str, Any]", scope)


def _as(scope: Scope, method: str) -> Scope:
    return cast("Scope", {**scope, "method": method})


def _without_body(send: Send) -> Send:
    async def quiet(message: Message) -> None:
        if message["type"] == "http.response.body":
            await send({**message, "body": b""})
        else:
            await send(message)

    return quiet


def _allow_only(send: Send) -> Send:
    """Turn the refusal of a method nobody has into 204; any other answer passes."""
    refused = False

    async def turned(message: Message) -> None:
        nonlocal refused
        if message["type"] == "http.response.start" and message["status"] == 405:  # noqa: PLR2004
            refused = True
            allow = Headers(message["headers"]).get("allow", "")
            headers = [(b"allow", _all_methods(allow).encode())]
            await send({"type": "http.response.start", "status": 204, "headers": headers})
        elif refused and message["type"] == "http.response.body":
            await send({"type": "http.response.body", "body": b"", "more_body": False})
        else:
            await send(message)

    return turned


def _allow_all(send: Send) -> Send:
    """Name HEAD too where a refusal lists the methods of a path."""

    async def naming(message: Message) -> None:
        if message["type"] == "http.response.start" and message["status"] == 405:  # noqa: PLR2004
            headers = [
                (name, _all_methods(value.decode()).encode() if name == b"allow" else value)
                for name, value in message["headers"]
            ]
            message["headers"] = headers
        await send(message)

    return naming


def _all_methods(allow: str) -> str:
    methods = {one.strip() for one in allow.split(",") if one.strip()} | {"OPTIONS"}
    return ", ".join(sorted(methods | ({"HEAD"} if "GET" in methods else set())))


def log_requests(app: ASGIApp) -> ASGIApp:
    """Give each request an id and write one line when it is answered: no query, body or names."""

    async def answer(scope: Scope, receive: Receive, send: Send) -> None:
        details = _details(scope)
        if details["type"] != "http":
            await app(scope, receive, send)
            return
        request_id = str(new_id())
        details["request_id"] = request_id
        started = time.perf_counter()
        seen: MutableMapping[str, int] = {}
        with structlog.contextvars.bound_contextvars(request_id=request_id):
            try:
                await app(scope, receive, _remember_status(send, seen))
            finally:
                log.info(
                    "request_answered",
                    method=details["method"],
                    path=details["path"],
                    status=seen.get("status", 500),
                    milliseconds=round(1000 * (time.perf_counter() - started), 1),
                )

    return answer


def _remember_status(send: Send, seen: MutableMapping[str, int]) -> Send:
    async def remembering(message: Message) -> None:
        if message["type"] == "http.response.start":
            seen["status"] = message["status"]
        await send(message)

    return remembering
