"""The two roles that keep shops apart, and the check that the service runs as the weak one.

``stallkeep_owner`` owns every table and cannot log in; migrations act as it. ``stallkeep_app``
may read and change rows, nothing else, and row level security binds it. Roles belong to the
whole server and not to one database, so several migrations may want to make them at once.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import os
from contextlib import suppress

import asyncpg

from stallkeep.domain.errors import UnavailableError
from stallkeep.store.connection import Connection

OWNER = "stallkeep_owner"
APP = "stallkeep_app"
SCRAM_ROUNDS = 4096  # RFC 7677 asks for at least as many

# As the owner, so that they hold for every table that a later migration makes.
GRANTS = f"""
alter default privileges in schema public
    grant select, insert, update, delete on tables to {APP};
alter default privileges in schema public grant usage on sequences to {APP};
"""

MISSING_GRANTS = f"""
select format('grant %s to %I', gift, role)
  from (values
    (format('create on database %I', current_database()), '{OWNER}',
     has_database_privilege('{OWNER}', current_database(), 'create')),
    ('create on schema public', '{OWNER}', has_schema_privilege('{OWNER}', 'public', 'create')),
    ('usage on schema public', '{OWNER}', has_schema_privilege('{OWNER}', 'public', 'usage')),
    ('usage on schema public', '{APP}', has_schema_privilege('{APP}', 'public', 'usage'))
  ) as wanted (gift, role, granted)
 where not granted
"""  # noqa: S608 - names of our own

STRENGTH = """
select r.rolname as role, r.rolsuper as is_superuser, r.rolbypassrls as bypasses,
       exists (select from pg_class c
                where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p')
                  and pg_has_role(r.oid, c.relowner, 'member')) as owns_tables
  from pg_roles r where r.rolname = current_user
"""


class StrongRoleError(UnavailableError):
    """The database role could see over the walls between shops."""

    code = "database-role-too-strong"
    title = "The database role is not bound by the walls between shops"


async def ensure_roles(admin: Connection) -> None:
    """Make both roles where they are missing, and let the admin act as either.

    The admin is a superuser or, as on managed servers, may create roles and owns the database.
    """
    for role, login in ((OWNER, "nologin"), (APP, "login")):
        await _create_role(admin, role, login)
        if not await _may_act_as(admin, role):
            await admin.execute(f"grant {role} to current_user")
    for row in await admin.fetch(MISSING_GRANTS):
        await admin.execute(row[0])


async def _create_role(admin: Connection, name: str, login: str) -> None:
    if await admin.fetchval("select 1 from pg_roles where rolname = $1", name):
        return
    # Another migration on this server may be quicker.
    with suppress(asyncpg.DuplicateObjectError, asyncpg.UniqueViolationError):
        await admin.execute(f"create role {name} {login}")


async def _may_act_as(admin: Connection, role: str) -> bool:
    version = await admin.fetchval("select current_setting('server_version_num')::int")
    how = "set" if version >= 160000 else "member"  # noqa: PLR2004 - 15 knows no "set"
    may: bool = await admin.fetchval("select pg_has_role(current_user, $1, $2)", role, how)
    return may


async def set_app_password(admin: Connection, password: str) -> None:
    """Set it by its SCRAM verifier, so that the password itself reaches no server log."""
    await admin.execute(f"alter role {APP} password '{scram_verifier(password)}'")


def scram_verifier(password: str, salt: bytes | None = None) -> str:
    """What PostgreSQL stores for a password.

    Args:
        password: ASCII, or already normalised by SASLprep.
        salt: Made up when left out.

    Source:
        RFC 5802 section 3 with SHA-256 (RFC 7677), in the notation of PostgreSQL's manual,
        catalog ``pg_authid``.
    """
    salt = os.urandom(16) if salt is None else salt
    salted = hashlib.pbkdf2_hmac("sha256", password.encode(), salt, SCRAM_ROUNDS)
    stored = hashlib.sha256(hmac.digest(salted, b"Client Key", "sha256")).digest()
    server = hmac.digest(salted, b"Server Key", "sha256")
    a, b, c = (base64.b64encode(part).decode() for part in (salt, stored, server))
    return f"SCRAM-SHA-256${SCRAM_ROUNDS}:{a}${b}:{c}"


async def refuse_strong_role(con: Connection) -> None:
    """Stop unless row level security binds the current role on every table.

    Raises:
        StrongRoleError: It is a superuser, bypasses row level security or owns tables.
    """
    row = await con.fetchrow(STRENGTH)
    if row is None:
        raise StrongRoleError("the database role is gone")
    reasons = {
        "is a superuser": row["is_superuser"],
        "bypasses row level security": row["bypasses"],
        "owns tables or belongs to the role that does": row["owns_tables"],
    }
    if any(reasons.values()):
        why = " and ".join(reason for reason, holds in reasons.items() if holds)
        raise StrongRoleError(
            f"the service would run as the database role {row['role']}, which {why}, so that one "
            f"shop could see another's data: log in as {APP} with STALLKEEP_APP_DATABASE_URL, or "
            f"leave it out and give an administrator's address in STALLKEEP_DATABASE_URL"
        )
