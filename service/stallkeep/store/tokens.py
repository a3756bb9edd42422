"""Tokens: who may ask. Only the hash of a secret is stored."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Final
from uuid import UUID

import msgspec
from sqlalchemy import func, select

from stallkeep.store.connection import Connection
from stallkeep.store.query import Query, only
from stallkeep.store.statements import add_row, columns_of, find_by_id, here, this
from stallkeep.store.tables import token


class Token(msgspec.Struct, frozen=True, gc=False):
    """One token. `role` is owner or helper; a revoked one stays readable."""

    id: UUID
    name: str
    role: str
    secret_sha256: bytes
    created_at: dt.datetime
    revoked_at: dt.datetime | None


_FIND: Final = find_by_id(token, Token)
_ADD: Final = add_row(token, Token)
_ALL: Final = Query(
    select(*columns_of(token, Token)).where(here(token)).order_by(token.c.created_at, token.c.id),
    Token,
)
_REVOKE: Final = Query(
    token.update().where(this(token), token.c.revoked_at.is_(None)).values(revoked_at=func.now())
)
# All of them in one order, so that two who revoke each other's token wait and do not deadlock.
_OWNERS: Final = Query(
    select(token.c.id)
    .where(here(token), token.c.role == "owner", token.c.revoked_at.is_(None))
    .order_by(token.c.id)
    .with_for_update(),
    only(UUID),
)


async def find_token(con: Connection, shop_id: UUID, token_id: UUID) -> Token | None:
    """Read one token, revoked or not."""
    return await _FIND.first(con, shop_id=shop_id, id=token_id)


async def all_tokens(con: Connection, shop_id: UUID) -> list[Token]:
    """Read every token, oldest first."""
    return await _ALL.all(con, shop_id=shop_id)


async def add_token(con: Connection, values: Mapping[str, object]) -> Token:
    """Write a new token; *values* are its columns, the shop among them."""
    return await _ADD.one(con, values)


async def is_last_owner(con: Connection, shop_id: UUID, token_id: UUID) -> bool:
    """Tell whether no other owner's token would be left; locks them all until the end."""
    return not set(await _OWNERS.all(con, shop_id=shop_id)) - {token_id}


async def revoke_token(con: Connection, shop_id: UUID, token_id: UUID) -> None:
    """End a token; one that has ended already keeps its moment."""
    await _REVOKE.execute(con, shop_id=shop_id, id=token_id)
