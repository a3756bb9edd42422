"""Who may do what in the database, and that the service refuses to run as a strong role."""

from __future__ import annotations

import asyncio
import secrets
import sys
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from pathlib import Path

import asyncpg
import pytest
from tests.database import Clone, on
from tests.embedded import open_folder

from stallkeep.store import migrate as migrations
from stallkeep.store.embedded import embedded_server
from stallkeep.store.engine import DatabaseUnavailableError, open_pool
from stallkeep.store.migrate import OldServerError, migrate
from stallkeep.store.roles import APP, OWNER, StrongRoleError

TABLES = """
select c.relname, pg_get_userbyid(c.relowner) as owner, c.relrowsecurity, c.relforcerowsecurity,
       has_table_privilege($1, c.oid, 'truncate') or has_table_privilege($1, c.oid, 'trigger')
           or has_table_privilege($1, c.oid, 'references') as too_much
  from pg_class c
 where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p')
"""


@pytest.fixture
async def admin(database: Clone) -> AsyncIterator[asyncpg.Connection]:
    con = await asyncpg.connect(database.admin_url)
    yield con
    await con.close()


@pytest.fixture
def bare_server() -> Iterator[str]:
    """A server of its own, whose roles and log-in rules a test may change."""
    with open_folder() as folder, embedded_server(folder, {"fsync": "off"}) as server:
        yield server.url()


@asynccontextmanager
async def connected(url: str) -> AsyncIterator[asyncpg.Connection]:
    con = await asyncpg.connect(url)
    try:
        yield con
    finally:
        await con.close()


async def test_the_owner_owns_every_table_and_cannot_log_in(admin: asyncpg.Connection) -> None:
    owners = {row["owner"] for row in await admin.fetch(TABLES, APP)}
    assert owners == {OWNER}
    assert not await admin.fetchval("select rolcanlogin from pg_roles where rolname = $1", OWNER)


async def test_the_application_may_change_rows_and_nothing_else(
    admin: asyncpg.Connection,
) -> None:
    tables = await admin.fetch(TABLES, APP)
    assert len(tables) > 20
    assert not any(row["too_much"] for row in tables)
    assert not await admin.fetchval(
        "select rolsuper or rolbypassrls or rolcreaterole or rolcreatedb"
        " or pg_has_role(oid, $2, 'member') from pg_roles where rolname = $1",
        APP,
        OWNER,
    )


async def test_every_table_stands_behind_the_wall(admin: asyncpg.Connection) -> None:
    walled = {
        row["relname"]: row["relrowsecurity"] and row["relforcerowsecurity"]
        for row in await admin.fetch(TABLES, APP)
    }
    assert not walled.pop("alembic_version")
    assert all(walled.values())


async def test_the_application_cannot_change_the_version(database: Clone) -> None:
    async with database.pool.acquire() as con:
        assert await con.fetchval("select version_num from alembic_version")
        with pytest.raises(asyncpg.InsufficientPrivilegeError):
            await con.execute("delete from alembic_version")


async def test_a_superuser_is_refused(database: Clone) -> None:
    with pytest.raises(StrongRoleError, match="is a superuser"):
        async with open_pool(database.admin_url):
            pass


@pytest.mark.parametrize(
    ("gift", "reason"),
    [
        (f"grant {OWNER} to {{role}}", "owns tables"),
        ("alter role {role} bypassrls", "bypasses row level security"),
    ],
    ids=["owner", "bypassrls"],
)
async def test_a_role_that_sees_over_the_walls_is_refused(
    database: Clone, admin: asyncpg.Connection, gift: str, reason: str
) -> None:
    role = f"stallkeep_test_{secrets.token_hex(4)}"
    await admin.execute(f"create role {role}")
    try:
        async with open_pool(database.admin_url, role=role):
            pass
        await admin.execute(gift.format(role=role))
        with pytest.raises(StrongRoleError, match=reason):
            async with open_pool(database.admin_url, role=role):
                pass
    finally:
        await admin.execute(f"drop role {role}")


async def test_migrating_again_changes_nothing(database: Clone) -> None:
    await migrate(database.admin_url)
    async with open_pool(database.admin_url, role=APP):
        pass


MIGRATE = """
import asyncio, sys
from stallkeep.store.migrate import migrate
asyncio.run(migrate(sys.argv[1]))
"""


async def test_many_may_migrate_at_once(bare_server: str) -> None:
    urls = [on(bare_server, name) for name in ("one", "other")]
    running = [
        await asyncio.create_subprocess_exec(sys.executable, "-c", MIGRATE, url) for url in urls * 2
    ]
    assert [await process.wait() for process in running] == [0, 0, 0, 0]
    for url in urls:
        async with open_pool(url, role=APP) as pool, pool.acquire() as con:
            assert await con.fetchval("select count(*) from item") == 0


async def test_a_broken_migration_leaves_the_database_as_it_was(
    database: Clone, admin: asyncpg.Connection, tmp_path: Path
) -> None:
    (tmp_path / "versions").mkdir()
    (tmp_path / "env.py").write_text((migrations.MIGRATIONS / "env.py").read_text())
    for version in (migrations.MIGRATIONS / "versions").glob("*.py"):
        (tmp_path / "versions" / version.name).write_text(version.read_text())
    head = await admin.fetchval("select version_num from alembic_version")
    (tmp_path / "versions/broken.py").write_text(
        f"from alembic import op\nrevision = 'broken'\ndown_revision = {head!r}\n"
        "def upgrade():\n    op.execute('create table half (n int)')\n    op.execute('no sql')\n"
    )
    with pytest.raises(DatabaseUnavailableError, match="syntax error"):
        await migrate(database.admin_url, migrations=tmp_path)
    assert await admin.fetchval("select version_num from alembic_version") == head
    assert await admin.fetchval("select to_regclass('half')") is None


async def test_an_old_server_is_refused(database: Clone, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(migrations, "OLDEST_SERVER", 99)
    with pytest.raises(OldServerError, match="PostgreSQL 99 or newer"):
        await migrate(database.admin_url)


async def test_an_administrator_need_be_no_superuser(bare_server: str) -> None:
    async with connected(bare_server) as con:
        await con.execute("create role manager login createrole createdb")
        await con.execute("create database managed owner manager")
    url = on(bare_server, "managed").replace("postgres@", "manager@")
    await migrate(url)
    await migrate(url)
    async with open_pool(url, role=APP) as pool, pool.acquire() as con:
        assert await con.fetchval("select current_user::text") == APP
        assert await con.fetchval("select count(*) from item") == 0


async def test_the_application_password_is_set_once_and_works(bare_server: str) -> None:
    async with connected(bare_server) as con:
        await con.execute("alter system set log_statement = 'all'")
        await _ask_for_password(con, APP)
        log = Path(await con.fetchval("show data_directory")).parent / "postgres.log"
    admin_url = on(bare_server, "stallkeep")
    app_url = admin_url.replace("postgres@", f"{APP}:s%C3%A9cret%20word@")
    await migrate(admin_url, app_url=app_url)
    await migrate(admin_url, app_url=app_url)
    async with open_pool(app_url) as pool, pool.acquire() as con:
        assert await con.fetchval("select session_user::text") == APP
    said = log.read_text()
    assert said.count("alter role stallkeep_app password") == 1
    assert "cret word" not in said


async def _ask_for_password(con: asyncpg.Connection, role: str) -> None:
    rules = Path(await con.fetchval("show hba_file"))
    rules.write_text(f"local all {role} scram-sha-256\nlocal all all trust\n")  # noqa: ASYNC240
    await con.execute("select pg_reload_conf()")


async def test_a_wrong_password_of_somebody_else_stays_wrong(bare_server: str) -> None:
    async with connected(bare_server) as con:
        await con.execute("create role other login")
        await _ask_for_password(con, "other")
    admin_url = on(bare_server, "stallkeep")
    with pytest.raises(DatabaseUnavailableError, match="password authentication failed"):
        await migrate(admin_url, app_url=admin_url.replace("postgres@", "other:guess@"))
