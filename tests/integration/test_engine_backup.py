"""A backup brought back is the same database; a failed one leaves things as they were."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest
from tests.embedded import ask, open_folder

from stallkeep.config import Settings
from stallkeep.store.backup import (
    BackupError,
    DatabaseNotEmptyError,
    restore_from,
    write_backup,
)
from stallkeep.store.database import Database, database
from stallkeep.store.engine import open_pool, read_scope, scope
from stallkeep.store.migrate import OutdatedTablesError, migrate, refuse_outdated

SHOP = uuid4()
A_SHOP = "insert into shop (shop_id, name, currency, time_zone) values ($1, 'Wöhl', 'EUR', 'UTC')"
NAME = "select name from shop"
OWNERS = "select string_agg(distinct tableowner, ' ') from pg_tables where schemaname = 'public'"


@pytest.fixture
def folder() -> Iterator[Path]:
    with open_folder() as made:
        yield made


async def _fill(found: Database) -> None:
    assert found.admin_url
    await migrate(found.admin_url, app_url=found.app_url)
    async with open_pool(found.app_url) as pool, scope(pool, SHOP) as con:
        await con.execute(A_SHOP, SHOP)


async def _read(found: Database) -> object:
    assert found.admin_url
    await migrate(found.admin_url, app_url=found.app_url)
    async with open_pool(found.app_url) as pool, read_scope(pool, SHOP) as con:
        await refuse_outdated(con)
        return await con.fetchval(NAME)


def test_a_backup_goes_into_a_new_database_and_nowhere_else(folder: Path) -> None:
    file = folder / "stock.backup"
    with database(Settings(data_dir=folder / "old")) as old:
        asyncio.run(_fill(old))
        assert write_backup(old, file) == file.stat().st_size > 1000
        assert file.stat().st_mode & 0o777 == 0o600
        with pytest.raises(DatabaseNotEmptyError):
            restore_from(old, file)
    with database(Settings(data_dir=folder / "new")) as new:
        restore_from(new, file)
        assert asyncio.run(_read(new)) == "Wöhl"
        assert new.admin_url
        owners = (
            "select string_agg(distinct tableowner, ' ') from pg_tables where schemaname = 'public'"
        )
        assert ask(new.admin_url, owners) == "stallkeep_owner"


def test_a_failed_backup_leaves_the_last_one(folder: Path) -> None:
    file = folder / "stock.backup"
    file.write_text("yesterday's")
    with database(Settings(data_dir=folder / "data")) as found:
        with pytest.raises(BackupError, match="does not exist"):
            write_backup(found, file)
        with pytest.raises(BackupError, match="cannot be written"):
            write_backup(found, folder / "nowhere/stock.backup")
    assert file.read_text() == "yesterday's"
    assert not file.with_name("stock.backup.part").exists()


def test_what_is_no_backup_brings_nothing_back(folder: Path) -> None:
    file = folder / "stock.backup"
    file.write_text("no archive")
    with database(Settings(data_dir=folder / "data")) as found:
        with pytest.raises(BackupError, match="valid archive"):
            restore_from(found, file)
        with pytest.raises(BackupError, match="no file"):
            restore_from(found, folder / "missing")
        assert found.admin_url
        assert ask(found.admin_url, OWNERS) is None


def test_who_may_not_migrate_is_told_that_somebody_must(folder: Path) -> None:
    async def begin(found: Database) -> None:
        assert found.admin_url
        await migrate(found.admin_url)
        async with open_pool(found.app_url) as pool, pool.acquire() as con:
            await refuse_outdated(con)
            with pytest.raises(OutdatedTablesError, match="needs None"):
                await refuse_outdated(con, migrations=folder)

    (folder / "versions").mkdir()
    with database(Settings(data_dir=folder / "data")) as found:
        asyncio.run(begin(found))


def test_a_backup_needs_an_administrator() -> None:
    with pytest.raises(BackupError, match="STALLKEEP_DATABASE_URL"):
        write_backup(Database(None, "postgresql://db", None), Path("/nowhere/file"))
