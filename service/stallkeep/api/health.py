"""Whether the service can do its work."""

from __future__ import annotations

import asyncio
from typing import Literal

from litestar import get
from litestar.datastructures import State

from stallkeep.api.auth import FOR_ANYBODY
from stallkeep.api.schemas import View
from stallkeep.store.connection import Pool
from stallkeep.store.engine import DatabaseUnavailableError, telling_loss

_PATIENCE_SECONDS = 5


class Health(View):
    """The service answers and so does its database."""

    status: Literal["ok"]


@get("/health", operation_id="readHealth", tags=["service"], opt=FOR_ANYBODY)
async def read_health(state: State) -> Health:
    """Ask the database for a sign of life; 503 when it gives none."""
    pool: Pool = state.pool
    try:
        with telling_loss():
            async with asyncio.timeout(_PATIENCE_SECONDS), pool.acquire() as con:
                await con.fetchval("select 1")
    except TimeoutError as error:
        raise DatabaseUnavailableError("The database is too slow to answer") from error
    return Health(status="ok")


ROUTES = (read_health,)
