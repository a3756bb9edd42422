"""One shop's transaction: what it sees, what it leaves behind, how it ends."""

from __future__ import annotations

import asyncio
import random
from uuid import UUID, uuid4

import asyncpg
import pytest
from tests.database import Clone

from stallkeep.store.engine import (
    Connection,
    DatabaseUnavailableError,
    Pool,
    constraint_of,
    open_pool,
    read_scope,
    scope,
)
from stallkeep.store.roles import APP

A_SHOP = (
    "insert into shop (shop_id, name, currency, time_zone) values ($1, 'Tidewell', 'EUR', 'UTC')"
)
A_CHANNEL = "insert into channel (shop_id, id, name, kind) values ($1, $2, $3, 'stall')"
HOW_MANY = "select count(*) from channel"


async def a_shop(pool: Pool, channels: int = 1) -> UUID:
    shop_id = uuid4()
    async with scope(pool, shop_id) as con:
        await con.execute(A_SHOP, shop_id)
        for n in range(channels):
            await con.execute(A_CHANNEL, shop_id, uuid4(), f"channel {n}")
    return shop_id


async def test_the_pool_runs_as_the_weak_role(database: Clone) -> None:
    async with database.pool.acquire() as con:
        assert await con.fetchval("select current_user::text") == "stallkeep_app"


async def test_a_shop_sees_its_own_rows_only(database: Clone) -> None:
    one, other = await a_shop(database.pool, 2), await a_shop(database.pool, 3)
    for shop_id, expected in ((one, 2), (other, 3), (uuid4(), 0)):
        async with read_scope(database.pool, shop_id) as con:
            assert await con.fetchval(HOW_MANY) == expected


async def test_without_a_shop_there_are_no_rows(database: Clone) -> None:
    await a_shop(database.pool)
    async with database.pool.acquire() as con:
        assert await con.fetchval(HOW_MANY) == 0


async def test_a_row_of_another_shop_cannot_be_written(database: Clone) -> None:
    one, other = await a_shop(database.pool), await a_shop(database.pool)
    with pytest.raises(asyncpg.InsufficientPrivilegeError, match="row-level security"):
        async with scope(database.pool, one) as con:
            await con.execute(A_CHANNEL, other, uuid4(), "theirs")


async def test_an_error_leaves_nothing(database: Clone) -> None:
    shop_id = await a_shop(database.pool)

    async def write_and_fail() -> None:
        async with scope(database.pool, shop_id) as con:
            await con.execute(A_CHANNEL, shop_id, uuid4(), "second")
            raise FileNotFoundError

    with pytest.raises(FileNotFoundError):
        await write_and_fail()
    async with read_scope(database.pool, shop_id) as con:
        assert await con.fetchval(HOW_MANY) == 1


async def test_a_read_scope_refuses_to_write(database: Clone) -> None:
    shop_id = await a_shop(database.pool)
    with pytest.raises(asyncpg.ReadOnlySQLTransactionError):
        async with read_scope(database.pool, shop_id) as con:
            await con.execute(A_CHANNEL, shop_id, uuid4(), "second")


async def test_a_read_scope_stays_at_one_moment(database: Clone) -> None:
    shop_id = await a_shop(database.pool)
    async with read_scope(database.pool, shop_id) as con:
        assert await con.fetchval(HOW_MANY) == 1
        async with scope(database.pool, shop_id) as other:
            await other.execute(A_CHANNEL, shop_id, uuid4(), "second")
        assert await con.fetchval(HOW_MANY) == 1


async def test_isolation_can_be_asked_for(database: Clone) -> None:
    async with scope(database.pool, uuid4(), isolation="serializable") as con:
        assert await con.fetchval("show transaction_isolation") == "serializable"
    async with scope(database.pool, uuid4()) as con:
        assert await con.fetchval("show transaction_isolation") == "read committed"


async def test_what_is_no_uuid_never_reaches_the_server(database: Clone) -> None:
    with pytest.raises(ValueError, match="hexadecimal"):
        async with scope(database.pool, "'; drop table item; --"):  # type: ignore[arg-type]
            pass


async def test_a_broken_constraint_has_a_name(database: Clone) -> None:
    shop_id = await a_shop(database.pool)
    with pytest.raises(asyncpg.UniqueViolationError) as caught:
        async with scope(database.pool, shop_id) as con:
            await con.execute(A_CHANNEL, shop_id, uuid4(), "channel 0")
    assert constraint_of(caught.value) == "channel_shop_id_name_key"
    assert constraint_of(ValueError()) is None


async def test_a_server_that_is_not_there_is_unavailable() -> None:
    with pytest.raises(DatabaseUnavailableError, match="cannot be reached"):
        async with open_pool("postgresql://nobody@127.0.0.1:1/none"):
            pass


async def test_a_database_that_is_not_there_is_unavailable(server_url: str) -> None:
    with pytest.raises(DatabaseUnavailableError, match="does not exist"):
        async with open_pool(server_url.replace("/postgres?", "/nowhere?"), role=APP):
            pass


async def test_a_connection_lost_half_way_is_unavailable_and_the_next_works(
    database: Clone,
) -> None:
    shop_id = await a_shop(database.pool)

    async def write_and_lose() -> None:
        async with scope(database.pool, shop_id) as con:
            await con.execute(A_CHANNEL, shop_id, uuid4(), "second")
            await _end_backend_of(con, database)
            await con.fetchval("select 1")

    with pytest.raises(DatabaseUnavailableError):
        await write_and_lose()
    async with read_scope(database.pool, shop_id) as con:
        assert await con.fetchval(HOW_MANY) == 1


async def _end_backend_of(con: Connection, database: Clone) -> None:
    pid = await con.fetchval("select pg_backend_pid()")
    admin = await asyncpg.connect(database.admin_url)
    await admin.fetchval("select pg_terminate_backend($1, 5000)", pid)
    await admin.close()


async def test_a_value_that_does_not_fit_is_no_loss_of_the_connection(database: Clone) -> None:
    with pytest.raises(asyncpg.DataError):
        async with scope(database.pool, uuid4()) as con:
            await con.fetchval("select $1::integer", 2**40)


async def test_a_storm_of_cancelled_requests_mixes_no_shops(database: Clone) -> None:
    dice = random.Random(20260501)  # noqa: S311 - a game, no secret
    shops = {await a_shop(database.pool, n): n for n in range(1, 6)}
    seen: list[tuple[UUID, int]] = []

    async def request(shop_id: UUID) -> None:
        async with scope(database.pool, shop_id) as con:
            await con.execute("select pg_sleep(0.001)")
            seen.append((shop_id, await con.fetchval(HOW_MANY)))

    tasks = [asyncio.create_task(request(dice.choice(list(shops)))) for _ in range(300)]
    for task in dice.sample(tasks, 100):
        await asyncio.sleep(dice.random() * 0.002)
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)

    assert 200 <= len(seen) < 300, "some were cancelled, the others were answered"
    assert all(count == shops[shop_id] for shop_id, count in seen)
    async with database.pool.acquire() as con:
        assert await con.fetchval(HOW_MANY) == 0
        open_ones = "select count(*) from pg_stat_activity where state like 'idle in%'"
        assert await con.fetchval(f"{open_ones} and datname = current_database()") == 0
