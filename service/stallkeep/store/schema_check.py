"""Whether a database's tables are those that the migrations make, and what differs.

Alembic keeps the number of a migration, not what it made: tables of an earlier state of the same
migration look up to date. So the fingerprint of the migrations stands beside the number. Where it
is another one, the tables are compared with those the migrations make now, in a schema of their
own that is dropped again; what was only written differently is no difference.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from stallkeep.store.connection import Connection
from stallkeep.store.tables import metadata

REFERENCE: Final = "stallkeep_reference"
"""The schema that is compared with, for a moment."""

DROP_REFERENCE: Final = f"drop schema if exists {REFERENCE} cascade"
NEW_REFERENCE: Final = f"{DROP_REFERENCE}; create schema {REFERENCE}; set search_path = {REFERENCE}"

SHOWN: Final = 3
BINDING: Final = ("column ", "rule ", "trigger ")
"""What may refuse a row, or ask more of it than we give."""

SHAPE: Final = """
with mine as (
    select oid, relname, relrowsecurity, relforcerowsecurity from pg_class
     where relnamespace = current_schema()::regnamespace and relkind in ('r', 'p')
       and relname <> 'alembic_version'
), shape as (
    select format('column %s.%s', relname, attname) as thing,
           format('%s %s %s', format_type(atttypid, atttypmod), attnotnull,
                  pg_get_expr(adbin, adrelid)) as rule
      from mine join pg_attribute a on a.attrelid = mine.oid and attnum > 0 and not attisdropped
      left join pg_attrdef d on d.adrelid = mine.oid and d.adnum = a.attnum
    union all
    select format('rule %s.%s', relname, conname), pg_get_constraintdef(k.oid)
      from mine join pg_constraint k on k.conrelid = mine.oid and contype <> 'n'
    union all
    select format('index %s.%s', mine.relname, i.relname), pg_get_indexdef(i.oid)
      from mine join pg_index x on x.indrelid = mine.oid join pg_class i on i.oid = x.indexrelid
    union all
    select format('trigger %s.%s', relname, tgname), pg_get_triggerdef(t.oid, true)
      from mine join pg_trigger t on t.tgrelid = mine.oid and not tgisinternal
    union all
    select format('walls of %s', relname), format('%s %s %s', relrowsecurity, relforcerowsecurity, (
           select string_agg(format('%s %s %s', polname, pg_get_expr(polqual, polrelid),
                                    pg_get_expr(polwithcheck, polrelid)), ' ' order by polname)
             from pg_policy where polrelid = mine.oid))
      from mine
    union all
    select format('function %s', oid::regprocedure), prosrc from pg_proc
     where pronamespace = current_schema()::regnamespace
       and not exists (select from pg_depend where objid = pg_proc.oid and deptype = 'e')
)
select thing, replace(rule, current_schema() || '.', '') as rule from shape
"""


def fingerprint(migrations: Path) -> str:
    """Name this state of the migrations."""
    digest = hashlib.sha256()
    for file in sorted((migrations / "versions").glob("*.py")):
        digest.update(file.name.encode() + b"\0" + file.read_bytes() + b"\0")
    return digest.hexdigest()


async def kept_fingerprint(con: Connection) -> str | None:
    """Read which state of the migrations made the tables, or was found to make the same."""
    found: str | None = await con.fetchval(
        "select obj_description('alembic_version'::regclass, 'pg_class')"
    )
    return found


async def keep_fingerprint(con: Connection, mark: str) -> None:
    """Write it down; it goes along with backups."""
    await con.execute(f"comment on table alembic_version is '{mark}'")


async def shape(con: Connection, schema: str = "public") -> dict[str, str]:
    """Say what there is in a schema: thing → rule."""
    await con.execute(f"set search_path = {schema}")
    return {row["thing"]: row["rule"] for row in await con.fetch(SHAPE)}


def differences(found: Mapping[str, str], wanted: Mapping[str, str]) -> list[str]:
    """Say in words what is not as wanted; tables, indexes and functions of others do no harm."""
    return [
        *(f"{thing} is missing" for thing in sorted(wanted.keys() - found.keys())),
        *(
            f"{thing} is not known"
            for thing in sorted(found.keys() - wanted.keys())
            if thing.startswith(BINDING) and _table(thing) in set(map(_table, wanted))
        ),
        *(
            f"{thing} is another one"
            for thing in sorted(found.keys() & wanted.keys())
            if found[thing] != wanted[thing]
        ),
    ]


def _table(thing: str) -> str:
    return thing.partition(" ")[2].partition(".")[0]


def told(found: list[str]) -> str:
    """Shorten a list of differences to a few words."""
    more = f" and {len(found) - SHOWN} more" if len(found) > SHOWN else ""
    return ", ".join(found[:SHOWN]) + more


async def missing_columns(con: Connection) -> list[str]:
    """Say which columns that the code knows are not there; for a role that may make nothing."""
    rows = await con.fetch(COLUMNS)
    found = {(row["relname"], row["attname"]) for row in rows}
    wanted = {(table.name, column.name) for table in metadata.tables.values() for column in table.c}
    return [f"column {table}.{column} is missing" for table, column in sorted(wanted - found)]


COLUMNS: Final = """
select relname, attname from pg_attribute join pg_class c on c.oid = attrelid
 where relnamespace = 'public'::regnamespace and relkind in ('r', 'p') and not attisdropped
"""
