"""Bringing a database up to date: roles, grants, and Alembic's migrations under one lock."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress
from pathlib import Path
from typing import Final
from urllib.parse import unquote, urlsplit

import asyncpg
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection as SyncConnection
from sqlalchemy.exc import DBAPIError
from sqlalchemy.ext.asyncio import create_async_engine
from sqlalchemy.pool import NullPool

from stallkeep.domain.errors import UnavailableError
from stallkeep.store import schema_check
from stallkeep.store.connection import Connection
from stallkeep.store.engine import telling_refusals
from stallkeep.store.roles import APP, GRANTS, OWNER, ensure_roles, set_app_password

OLDEST_SERVER = 15
LOCK_KEY = 0x5354414C4C  # any number of our own; the lock belongs to one database
WAIT_FOR_OTHERS = "5min"  # while another process migrates the same database
WAIT_FOR_A_TABLE = "10s"  # rather give up than make every request queue behind a migration
LONGEST_STATEMENT = "15min"
MIGRATIONS = Path(__file__).parent / "migrations"


class OldServerError(UnavailableError):
    """The PostgreSQL server is older than Stallkeep can use."""

    code = "database-server-too-old"
    title = "The database server is too old"


class OutdatedTablesError(UnavailableError):
    """The tables are not those of this version."""

    code = "tables-outdated"
    title = "The tables are of another version"


async def migrate(
    admin_url: str, *, app_url: str | None = None, migrations: Path = MIGRATIONS
) -> None:
    """Make the database, roles and tables, or bring them up to date.

    Several processes may do so at once; within one, Alembic's global state allows one at a time.

    Args:
        admin_url: Names the database; a missing one is made. The role there is a superuser, or
            may create roles and owns the database.
        app_url: Where the service will log in. When that is ``stallkeep_app`` on a server that
            does not know its password yet, the password is set.
        migrations: Folder of Alembic's ``env.py`` and ``versions``.

    Raises:
        DatabaseUnavailableError: The server does not answer or refuses something.
        OldServerError: It is older than PostgreSQL 15.
        OutdatedTablesError: The tables are of a state that no migration knows.
    """
    with telling_refusals(), _baring_driver_errors():
        async with _prepared(admin_url) as admin:
            await _bring_up_to_date(admin, admin_url, migrations)
            if app_url:
                await _let_app_in(admin, app_url)


async def prepare(admin_url: str) -> bool:
    """Make the database and the roles, no tables; says whether the database is empty.

    Raises:
        DatabaseUnavailableError: The server does not answer or refuses something.
        OldServerError: It is older than PostgreSQL 15.
    """
    with telling_refusals():
        async with _prepared(admin_url) as admin:
            tables = "select from pg_class where relnamespace = 'public'::regnamespace"
            empty: bool = await admin.fetchval(f"select not exists ({tables})")
            return empty


async def refuse_outdated(con: Connection, *, migrations: Path = MIGRATIONS) -> None:
    """Stop unless the tables are of this version; for those who may not migrate themselves.

    Raises:
        OutdatedTablesError: Somebody must migrate first, or this is an older Stallkeep.
    """
    wanted = ScriptDirectory(str(migrations)).get_current_head()
    found = None
    with suppress(asyncpg.UndefinedTableError):
        found = await con.fetchval("select version_num from alembic_version")
    hint = "start Stallkeep once with an administrator's address in STALLKEEP_DATABASE_URL"
    if found != wanted:
        raise OutdatedTablesError(
            f"the tables are at revision {found or 'none'} and this needs {wanted}: {hint}"
        )
    if lacking := await schema_check.missing_columns(con):
        raise OutdatedTablesError(f"{schema_check.told(lacking)}: {hint}")


@asynccontextmanager
async def _prepared(admin_url: str) -> AsyncIterator[asyncpg.Connection]:
    """Hold the one connection that may change the database now."""
    admin = await _connect(admin_url)
    try:
        await _refuse_old(admin)
        await admin.execute(f"set lock_timeout = '{WAIT_FOR_OTHERS}'")
        await admin.fetchval("select pg_advisory_lock($1)", LOCK_KEY)
        await ensure_roles(admin)
        yield admin
    finally:
        await admin.close()  # and with it the lock


@contextmanager
def _baring_driver_errors() -> Iterator[None]:
    """Take off what SQLAlchemy wraps around the driver's own error."""
    try:
        yield
    except DBAPIError as error:
        raise (error.driver_exception or error) from error


async def _connect(url: str) -> asyncpg.Connection:
    try:
        return await asyncpg.connect(url)
    except asyncpg.InvalidCatalogNameError:
        name = unquote(urlsplit(url).path.lstrip("/"))
        server = await asyncpg.connect(url, database="postgres")
        try:
            await _create_database(server, name)
        finally:
            await server.close()
        return await asyncpg.connect(url)


async def _create_database(server: asyncpg.Connection, name: str) -> None:
    quoted = await server.fetchval("select quote_ident($1)", name)
    with suppress(asyncpg.DuplicateDatabaseError, asyncpg.UniqueViolationError):  # one was quicker
        await server.execute(f"create database {quoted}")


async def _refuse_old(admin: asyncpg.Connection) -> None:
    major = admin.get_server_version().major
    if major < OLDEST_SERVER:
        raise OldServerError(f"PostgreSQL {OLDEST_SERVER} or newer is needed, this is {major}")


async def _bring_up_to_date(admin: asyncpg.Connection, url: str, migrations: Path) -> None:
    """Run what is missing, on tables that are as the migrations before made them."""
    mark = schema_check.fingerprint(migrations)
    known = [one.revision for one in ScriptDirectory(str(migrations)).walk_revisions()]
    found = None
    with suppress(asyncpg.UndefinedTableError):
        found = await admin.fetchval("select version_num from alembic_version")
        if await schema_check.kept_fingerprint(admin) == mark and found in known[:1]:
            return
    if found is not None:
        await _refuse_others(admin, url, migrations, found if found in known else None)
    await _run(url, migrations, "head", GRANTS)
    await schema_check.keep_fingerprint(admin, mark)


async def _refuse_others(
    admin: asyncpg.Connection, url: str, migrations: Path, revision: str | None
) -> None:
    if revision is None:
        raise OutdatedTablesError(f"The tables are of a newer Stallkeep than this one. {WAY_ON}")
    try:
        await _run(url, migrations, revision, schema_check.NEW_REFERENCE)
        wanted = await schema_check.shape(admin, schema_check.REFERENCE)
    finally:
        await admin.execute(schema_check.DROP_REFERENCE)
    if found := schema_check.differences(await schema_check.shape(admin), wanted):
        raise OutdatedTablesError(
            "The tables were made by an earlier state of Stallkeep that no migration leads on "
            f"from: {schema_check.told(found)}. {WAY_ON}"
        )


WAY_ON: Final = (
    "Nothing was changed. Go on with the Stallkeep that made them; or take the data away with it "
    "(GET /v1/exports/package.zip, and `stallkeep backup FILE` for safety), and begin anew with "
    "this one in another folder (--data-dir, STALLKEEP_DATA_DIR) or database "
    "(STALLKEEP_DATABASE_URL)"
)


async def _run(url: str, migrations: Path, revision: str, first: str) -> None:
    """Run Alembic as the owner, so that everything it makes belongs to that role."""
    settings = {"lock_timeout": WAIT_FOR_A_TABLE, "statement_timeout": LONGEST_STATEMENT}

    async def connect() -> asyncpg.Connection:
        con = await asyncpg.connect(url, server_settings={"role": OWNER, **settings})
        await con.execute(first)
        return con

    def run(connection: SyncConnection) -> None:
        config = Config(attributes={"connection": connection})
        config.set_main_option("script_location", str(migrations).replace("%", "%%"))
        command.upgrade(config, revision)

    engine = create_async_engine("postgresql+asyncpg://", async_creator=connect, poolclass=NullPool)
    async with engine.begin() as con:
        await con.run_sync(run)
        await con.exec_driver_sql(f"revoke insert, update, delete on alembic_version from {APP}")


async def _let_app_in(admin: asyncpg.Connection, app_url: str) -> None:
    """Set the application role's password where the server does not know it yet."""
    try:
        await (await asyncpg.connect(app_url)).close()
    except asyncpg.InvalidAuthorizationSpecificationError:
        address = urlsplit(app_url)
        if address.username != APP or not address.password:
            raise
        await set_app_password(admin, unquote(address.password))
