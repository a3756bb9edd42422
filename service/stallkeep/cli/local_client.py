"""Requests to the service inside this process: the whole API, without a socket."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import quote, urlencode

import msgspec
from litestar.types import ASGIApp

from stallkeep.domain.errors import StallkeepError

ERROR = 400


class RefusedError(StallkeepError):
    """The service refused a request; the facts are those of its problem document."""

    code = "refused"
    title = "The service refused a request"


class LocalClient:
    """Talks to one application with one token."""

    def __init__(self, app: ASGIApp, token: str) -> None:
        self._app = app
        self._token = token

    async def get(self, path: str, **query: object) -> Any:  # noqa: ANN401 - decoded JSON
        """Read something."""
        return (await self.send("GET", path, query=query))[0]

    async def every(self, path: str, **query: object) -> list[Any]:
        """Read a whole list, page by page."""
        found: list[Any] = []
        cursor: str | None = None
        while True:
            more = {**query, "limit": 200, **({"cursor": cursor} if cursor else {})}
            page = await self.get(path, **more)
            found += page["data"]
            cursor = page["next"]
            if cursor is None:
                return found

    async def post(self, path: str, body: object, key: str | None = None) -> Any:  # noqa: ANN401
        """Make something; with *key* once only, however often it is asked for."""
        data = msgspec.json.encode(body)
        return (await self.send("POST", path, body=data, key=key))[0]

    async def put(self, path: str, body: object) -> Any:  # noqa: ANN401
        """Set something."""
        return (await self.send("PUT", path, body=msgspec.json.encode(body)))[0]

    async def patch(self, path: str, body: object, version: str = "*") -> Any:  # noqa: ANN401
        """Change something."""
        data = msgspec.json.encode(body)
        return (await self.send("PATCH", path, body=data, version=version))[0]

    async def upload(self, path: str, data: bytes, **query: object) -> Any:  # noqa: ANN401
        """Send a file."""
        return (await self.send("POST", path, body=data, query=query, media_type="text/csv"))[0]

    async def send(
        self,
        method: str,
        path: str,
        *,
        body: bytes = b"",
        query: Mapping[str, object] | None = None,
        version: str | None = None,
        key: str | None = None,
        media_type: str = "application/json",
    ) -> tuple[Any, Mapping[str, str]]:
        """Send one request.

        Returns:
            The decoded body (None when there is none) and the headers, names in small letters.

        Raises:
            RefusedError: The answer is a problem.
        """
        headers = [
            (b"host", b"stallkeep.local"),
            (b"authorization", f"Bearer {self._token}".encode()),
            (b"content-type", media_type.encode()),
            (b"content-length", str(len(body)).encode()),
        ]
        if version is not None:
            headers.append((b"if-match", version.encode()))
        if key is not None:
            headers.append((b"idempotency-key", key.encode()))
        given = {name: value for name, value in (query or {}).items() if value is not None}
        scope: dict[str, Any] = {
            "type": "http",
            "asgi": {"version": "3.0", "spec_version": "2.3"},
            "http_version": "1.1",
            "method": method,
            "scheme": "http",
            "path": path,
            "raw_path": quote(path).encode(),
            "query_string": urlencode(given).encode(),
            "root_path": "",
            "headers": headers,
            "client": ("127.0.0.1", 0),
            "server": ("stallkeep.local", 80),
            "state": {},
        }
        status, found, content = await _call(self._app, scope, body)
        answer = msgspec.json.decode(content) if content else None
        if status >= ERROR:
            facts = dict(answer or {})
            detail = f"{method} {path}: {facts.pop('detail', status)}"
            raise RefusedError(detail, **{k: v for k, v in facts.items() if k != "self"})
        return answer, found


async def _call(
    app: ASGIApp, scope: dict[str, Any], body: bytes
) -> tuple[int, dict[str, str], bytes]:
    status = 500
    headers: dict[str, str] = {}
    content = bytearray()
    sent = False

    async def receive() -> Any:  # noqa: ANN401 - an ASGI message
        nonlocal sent
        if sent:
            return {"type": "http.disconnect"}
        sent = True
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: Any) -> None:  # noqa: ANN401 - an ASGI message
        nonlocal status, headers
        if message["type"] == "http.response.start":
            status = message["status"]
            headers = {k.decode().lower(): v.decode() for k, v in message["headers"]}
        elif message["type"] == "http.response.body":
            content.extend(message.get("body", b""))

    await app(scope, receive, send)  # type: ignore[arg-type]  # built by hand above
    return status, headers, bytes(content)
