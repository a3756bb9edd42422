"""One shop's transaction: what it sees, what it leaves behind."""

from __future__ import annotations

from tests.database import Clone


async def test_the_pool_runs_as_the_weak_role(database: Clone) -> None:
    async with database.pool.acquire() as con:
        assert await con.fetchval("select current_user::text") == "stallkeep_app"
