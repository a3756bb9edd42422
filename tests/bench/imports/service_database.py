"""The benchmark's databases: a server, a migrated template with one shop, fresh copies of it."""

from __future__ import annotations

import os
import secrets
import tempfile
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from pathlib import Path
from uuid import UUID

import asyncpg
import msgspec
from tests.database import on

from stallkeep.store.connection import Pool
from stallkeep.store.embedded import embedded_server
from stallkeep.store.engine import open_pool, scope
from stallkeep.store.ids import new_id
from stallkeep.store.migrate import migrate
from stallkeep.store.roles import APP
from stallkeep.store.shops import Shop, find_shop

GIVEN = "STALLKEEP_TEST_DATABASE_URL"


class Place(msgspec.Struct, frozen=True):
    """An empty copy of the template: its address for an administrator, its one shop."""

    url: str
    pool: Pool
    shop: Shop
    channel_id: UUID


class Server(msgspec.Struct, frozen=True):
    """A server and the name of its template."""

    url: str
    template: str
    shop_id: UUID
    channel_id: UUID


@contextmanager
def server_url() -> Iterator[str]:
    """Use the server that is named in the environment, or the embedded one as it is delivered."""
    if url := os.environ.get(GIVEN):
        yield url
        return
    with tempfile.TemporaryDirectory(prefix="stallkeep-bench-") as folder:
        Path(folder).chmod(0o711)  # PostgreSQL does not run as root, and must get in
        with embedded_server(Path(folder)) as server:
            yield server.url()


@asynccontextmanager
async def benchmark_server(url: str) -> AsyncIterator[Server]:
    """Have a migrated template holding one shop with one channel."""
    name = f"stallkeep_bench_{secrets.token_hex(4)}"
    shop_id, channel_id = new_id(), new_id()
    await migrate(on(url, name))
    try:
        async with open_pool(on(url, name), role=APP) as pool, scope(pool, shop_id) as con:
            await con.execute(
                "insert into shop (shop_id, name, currency, time_zone, languages) "
                "values ($1, 'Woolgather', 'EUR', 'Europe/Berlin', '{en,de}')",
                shop_id,
            )
            await con.execute(
                "insert into channel (shop_id, id, name, kind) values ($1, $2, 'Stall', 'stall')",
                shop_id,
                channel_id,
            )
        yield Server(url, name, shop_id, channel_id)
    finally:
        await _run(url, f"drop database {name} with (force)")


@asynccontextmanager
async def empty_place(server: Server) -> AsyncIterator[Place]:
    """Have a fresh copy; what earlier runs left to be written is written before it begins."""
    name = f"{server.template}_{secrets.token_hex(4)}"
    await _run(server.url, f"create database {name} template {server.template}", "checkpoint")
    try:
        url = on(server.url, name)
        async with open_pool(url, role=APP) as pool:
            async with scope(pool, server.shop_id) as con:
                shop = await find_shop(con, server.shop_id)
            assert shop is not None
            yield Place(url, pool, shop, server.channel_id)
    finally:
        await _run(server.url, f"drop database {name} with (force)")


async def count(place: Place) -> int:
    """Count the shop's transactions."""
    async with scope(place.pool, place.shop.shop_id) as con:
        number: int = await con.fetchval("select count(*) from transaction")
    return number


async def _run(url: str, *statements: str) -> None:
    con = await asyncpg.connect(url)
    try:
        for statement in statements:
            await con.execute(statement)
    finally:
        await con.close()
