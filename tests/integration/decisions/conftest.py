"""A shop with its API, asked over HTTP as a client would."""

from __future__ import annotations

from collections.abc import AsyncIterator

import pytest
from tests.api_client import Client, serve_shop
from tests.database import Clone


@pytest.fixture
async def api(database: Clone) -> AsyncIterator[Client]:
    """The owner of a fresh shop in euro."""
    async with serve_shop(database.pool) as client:
        yield client
