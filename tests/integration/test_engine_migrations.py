"""The migrations make what the tables say, and can be undone."""

from __future__ import annotations

import re
from typing import Any

import asyncpg
import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from sqlalchemy import CheckConstraint, Connection
from sqlalchemy.ext.asyncio import create_async_engine
from sqlalchemy.pool import NullPool
from tests.database import Clone

from stallkeep.store.migrate import MIGRATIONS, migrate
from stallkeep.store.roles import OWNER
from stallkeep.store.tables import metadata

KEYS = """
select c.relname as table, i.relname as index,
       (select attname from pg_attribute where attrelid = c.oid and attnum = x.indkey[0]) as first
  from pg_index x join pg_class c on c.oid = x.indrelid join pg_class i on i.oid = x.indexrelid
 where x.indisunique and c.relnamespace = 'public'::regnamespace and c.relname <> 'alembic_version'
"""
CHECKS = """
select c.relname as table, k.conname as name, pg_get_constraintdef(k.oid) as rule
  from pg_constraint k join pg_class c on c.oid = k.conrelid
 where k.contype = 'c' and c.relnamespace = 'public'::regnamespace
"""
LEFT = """
select relname from pg_class where relnamespace = 'public'::regnamespace and relkind <> 'i'
union all select proname from pg_proc where pronamespace = 'public'::regnamespace
"""
POLICIES = """
select tablename, qual, with_check, roles::text from pg_policies where schemaname = 'public'
"""


@pytest.fixture
async def admin(database: Clone) -> Any:  # noqa: ANN401 - an asynchronous generator
    con = await asyncpg.connect(database.admin_url)
    yield con
    await con.close()


async def test_the_migrations_make_the_tables_as_described(database: Clone) -> None:
    """Alembic compares tables, columns, types, defaults, keys and indexes."""

    def differences(con: Connection) -> list[object]:
        context = MigrationContext.configure(con, opts={"compare_server_default": True})
        return list(compare_metadata(context, metadata))

    engine = create_async_engine(
        "postgresql+asyncpg://",
        async_creator=lambda: asyncpg.connect(database.admin_url),
        poolclass=NullPool,
    )
    async with engine.connect() as con:
        assert await con.run_sync(differences) == []


async def test_every_check_of_the_tables_is_in_the_database(admin: asyncpg.Connection) -> None:
    """Alembic does not compare checks, so their names and rules are compared here."""
    described = {
        (table.name, str(check.name))
        for table in metadata.tables.values()
        for check in table.constraints
        if isinstance(check, CheckConstraint)
    }
    assert {(row["table"], row["name"]) for row in await admin.fetch(CHECKS)} == described


async def test_the_shop_leads_every_unique_key(admin: asyncpg.Connection) -> None:
    """A unique key without it would tell one shop what another holds."""
    keys = await admin.fetch(KEYS)
    assert len(keys) > len(metadata.tables)
    assert [row["index"] for row in keys if row["first"] != "shop_id"] == []


async def test_every_table_has_the_one_policy(admin: asyncpg.Connection) -> None:
    policies = {row["tablename"]: row for row in await admin.fetch(POLICIES)}
    assert policies.keys() == metadata.tables.keys()
    for row in policies.values():
        for rule in (row["qual"], row["with_check"]):
            assert re.sub(r"\s", "", rule) == (
                "(shop_id=(NULLIF(current_setting('app.shop_id'::text,true),''::text))::uuid)"
            )
        assert row["roles"] == "{public}"


async def test_the_migrations_can_be_undone_and_done_again(
    database: Clone, admin: asyncpg.Connection
) -> None:
    def undo(con: Connection) -> None:
        config = Config(attributes={"connection": con})
        config.set_main_option("script_location", str(MIGRATIONS))
        command.downgrade(config, "base")

    engine = create_async_engine(
        "postgresql+asyncpg://",
        async_creator=lambda: asyncpg.connect(database.admin_url, server_settings={"role": OWNER}),
        poolclass=NullPool,
    )
    async with engine.begin() as con:
        await con.run_sync(undo)
    assert [row[0] for row in await admin.fetch(LEFT)] == ["alembic_version"]
    await migrate(database.admin_url)
    assert await admin.fetchval("select count(*) from item") == 0
