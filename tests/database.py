"""The databases of a run: one migrated template, and a fresh copy of it for each test."""

from __future__ import annotations

import secrets
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from urllib.parse import urlsplit

import asyncpg
import msgspec

from stallkeep.store.engine import Pool, open_pool
from stallkeep.store.migrate import migrate
from stallkeep.store.roles import APP

TEMPLATE_LOCK = 7_305_711  # any number of our own


class Clone(msgspec.Struct, frozen=True):
    """One test's database.

    Attributes:
        name: Its name on the server.
        admin_url: For a second process, or to look over the walls.
        pool: Open as the application's weak role.
    """

    name: str
    admin_url: str
    pool: Pool


async def make_template(url: str, name: str) -> None:
    """Make the run's migrated database unless another worker has."""
    con = await asyncpg.connect(url)
    try:
        await con.execute("select pg_advisory_lock($1)", TEMPLATE_LOCK)
        if not await con.fetchval("select 1 from pg_database where datname = $1", name):
            half = f"{name}_half"
            await con.execute(f"drop database if exists {half} with (force)")
            await migrate(on(url, half))
            await con.execute(f"alter database {half} rename to {name}")
    finally:
        await con.close()


@asynccontextmanager
async def clone(url: str, template: str) -> AsyncIterator[Clone]:
    """Have a fresh copy of the template, and a pool on it."""
    name = f"{template}_{secrets.token_hex(6)}"
    async with _administrator(url) as con:
        await con.execute(f"create database {name} template {template}")
    try:
        async with open_pool(on(url, name), role=APP) as pool:
            yield Clone(name, on(url, name), pool)
    finally:
        async with _administrator(url) as con:
            await con.execute(f"drop database {name} with (force)")


@asynccontextmanager
async def _administrator(url: str) -> AsyncIterator[asyncpg.Connection]:
    con = await asyncpg.connect(url)
    try:
        yield con
    finally:
        await con.close()


def on(url: str, database: str) -> str:
    """The same server, another database."""
    parts = urlsplit(url)
    query = f"?{parts.query}" if parts.query else ""
    return f"{parts.scheme}://{parts.netloc}/{database}{query}"
