"""Tables of another state than the code's are found out at start, in words."""

from __future__ import annotations

from collections.abc import AsyncIterator

import asyncpg
import pytest
from tests.database import Clone
from tests.serving import run

from stallkeep.store.migrate import MIGRATIONS, OutdatedTablesError, migrate, refuse_outdated
from stallkeep.store.roles import OWNER
from stallkeep.store.schema_check import REFERENCE, fingerprint

FORGET = "comment on table alembic_version is null"
OLDER = [
    ("alter table cost drop column tax_minor", "column cost.tax_minor is missing"),
    ("alter table item alter column title drop not null", "column item.title is another one"),
    (
        "alter table reject alter column reason type varchar(9)",
        "column reject.reason is another one",
    ),
    ("alter table item add column age integer", "column item.age is not known"),
    ("drop table kept_answer", "column kept_answer.body is missing"),
    (
        "alter table channel drop constraint channel_kind, add constraint channel_kind "
        "check (kind in ('online', 'stall'))",
        "rule channel.channel_kind is another one",
    ),
    ("drop index import_shop_id_started_at_id_ix", "index import.import_shop_id_started_at"),
    (
        "create or replace function average_costs(of_shop uuid, of_item uuid) returns void "
        "language plpgsql as 'begin end'",
        "function average_costs(uuid,uuid) is another one",
    ),
    ("drop trigger count_sold on sale_line", "trigger sale_line.count_sold is missing"),
    ("alter table item no force row level security", "walls of item is another one"),
]
HARMLESS = [
    "create index own_report on item (shop_id, title)",
    "create table own_notes (id integer primary key, text text not null)",
    "create function own_function() returns integer language sql as 'select 1'",
]


@pytest.fixture
async def admin(database: Clone) -> AsyncIterator[asyncpg.Connection]:
    con = await asyncpg.connect(database.admin_url)
    yield con
    await con.close()


@pytest.mark.parametrize(("change", "words"), OLDER)
async def test_an_older_state_of_the_tables_is_refused_and_named(
    database: Clone, admin: asyncpg.Connection, change: str, words: str
) -> None:
    await admin.execute(f"{FORGET}; {change}")
    with pytest.raises(OutdatedTablesError) as refused:
        await migrate(database.admin_url)
    assert words in refused.value.detail
    assert "Nothing was changed" in refused.value.detail
    assert "stallkeep backup" in refused.value.detail
    await _nothing_is_left(admin)


async def _nothing_is_left(admin: asyncpg.Connection) -> None:
    assert await admin.fetchval("select to_regnamespace($1)", REFERENCE) is None


async def test_what_an_administrator_adds_does_no_harm(
    database: Clone, admin: asyncpg.Connection
) -> None:
    await admin.execute("; ".join([FORGET, *HARMLESS]))
    await migrate(database.admin_url)


async def test_equal_tables_of_other_words_are_taken_and_remembered(
    database: Clone, admin: asyncpg.Connection
) -> None:
    await admin.execute("comment on table alembic_version is 'as written before'")
    await migrate(database.admin_url)
    mark = "select obj_description('alembic_version'::regclass, 'pg_class')"
    assert await admin.fetchval(mark) == fingerprint(MIGRATIONS)
    await _nothing_is_left(admin)


async def test_a_comparison_that_was_killed_leaves_nothing_in_the_way(
    database: Clone, admin: asyncpg.Connection
) -> None:
    made = f"create schema {REFERENCE} authorization {OWNER}; create table {REFERENCE}.item ()"
    await admin.execute(f"{FORGET}; {made}")
    await migrate(database.admin_url)
    await _nothing_is_left(admin)


async def test_tables_of_a_newer_stallkeep_are_refused(
    database: Clone, admin: asyncpg.Connection
) -> None:
    await admin.execute("update alembic_version set version_num = '9999'")
    with pytest.raises(OutdatedTablesError, match="newer Stallkeep"):
        await migrate(database.admin_url)


async def test_who_may_not_migrate_is_told_of_a_missing_column(
    database: Clone, admin: asyncpg.Connection
) -> None:
    await refuse_outdated(admin)
    await admin.execute("alter table cost drop column tax_minor")
    with pytest.raises(OutdatedTablesError, match=r"cost\.tax_minor is missing.*administrator"):
        await refuse_outdated(admin)


async def test_a_command_says_so_and_ends(database: Clone, admin: asyncpg.Connection) -> None:
    await admin.execute(f"{FORGET}; alter table cost drop column tax_minor")
    done = run("shops", STALLKEEP_DATABASE_URL=database.admin_url)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("stallkeep: The tables are of another version: ")
    assert "cost.tax_minor is missing" in done.stderr
    assert "Traceback" not in done.stderr
