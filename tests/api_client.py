"""A client of the service in the test's own process: real requests, no sockets."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import cache
from typing import Any

import httpx
from litestar import Litestar
from litestar.types import ASGIApp

from stallkeep.api.app import all_routes, framework, wrapped
from stallkeep.config import Settings
from stallkeep.store.connection import Pool
from stallkeep.store.shops import Shop
from stallkeep.work.open_shop import open_shop

BASE = "http://stallkeep.test"


class Client:
    """Asks as one token of one shop; answers are httpx responses unless the name says JSON."""

    def __init__(self, app: ASGIApp, pool: Pool, shop: Shop, token: str) -> None:
        self.app = app
        self.pool = pool
        self.shop = shop
        self.token = token
        self.http = _http(app, {"Authorization": f"Bearer {token}"})

    def without_token(self) -> httpx.AsyncClient:
        return _http(self.app, {})

    def with_token(self, token: str) -> Client:
        return Client(self.app, self.pool, self.shop, token)

    async def ask(
        self, method: str, path: str, body: object = None, **headers: str
    ) -> httpx.Response:
        """Send one request; header names are written with underlines."""
        given = {name.replace("_", "-"): value for name, value in headers.items()}
        if body is None:
            return await self.http.request(method, path, headers=given)
        return await self.http.request(method, path, json=body, headers=given)

    async def get(self, path: str) -> Any:  # noqa: ANN401 - JSON
        """Read JSON, which must be there."""
        answer = await self.ask("GET", path)
        assert answer.status_code == 200, answer.text
        return answer.json()

    async def post(self, path: str, body: object = None) -> Any:  # noqa: ANN401 - JSON
        """Make something, which must succeed."""
        answer = await self.ask("POST", path, {} if body is None else body)
        assert answer.status_code in {200, 201}, answer.text
        return answer.json()

    async def put(self, path: str, body: object) -> Any:  # noqa: ANN401 - JSON
        """Replace something, which must succeed."""
        answer = await self.ask("PUT", path, body)
        assert answer.status_code == 200, answer.text
        return answer.json()

    async def patch(self, path: str, body: object, if_match: str = "*") -> Any:  # noqa: ANN401
        """Change something, which must succeed."""
        answer = await self.ask("PATCH", path, body, If_Match=if_match)
        assert answer.status_code == 200, answer.text
        return answer.json()


@cache
def _application() -> tuple[Litestar, ASGIApp]:
    """Build the application once in a process; each test sets its own pool."""
    litestar = framework(all_routes(), settings=Settings())
    return litestar, wrapped(litestar)


def _http(app: ASGIApp, headers: dict[str, str]) -> httpx.AsyncClient:
    transport = httpx.ASGITransport(app=app, raise_app_exceptions=True)  # type: ignore[arg-type]
    return httpx.AsyncClient(transport=transport, base_url=BASE, headers=headers)


@asynccontextmanager
async def serve_shop(
    pool: Pool, *, name: str = "Harbour Mending", currency: str = "EUR"
) -> AsyncIterator[Client]:
    """Open a shop and give its owner's client."""
    shop, token = await open_shop(pool, name, currency, "Europe/Lisbon", ["en"])
    litestar, app = _application()
    litestar.state.pool = pool
    client = Client(app, pool, shop, token)
    async with client.http:
        yield client
