"""A shop with its API, asked over HTTP as a client would."""

from __future__ import annotations

from collections.abc import AsyncIterator

import httpx
import pytest
from tests.api_client import Client, serve_shop
from tests.database import Clone


@pytest.fixture
async def api(database: Clone) -> AsyncIterator[Client]:
    """The owner of a fresh shop in euro."""
    async with serve_shop(database.pool) as client:
        yield client


@pytest.fixture
async def stranger(database: Clone) -> AsyncIterator[Client]:
    """The owner of another shop in the same database."""
    async with serve_shop(database.pool, name="Somebody else's shop") as client:
        yield client


@pytest.fixture
async def nobody(api: Client) -> AsyncIterator[httpx.AsyncClient]:
    """A client without a token."""
    async with api.without_token() as client:
        yield client
