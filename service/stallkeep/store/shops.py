"""Shops: one row each, seen from inside its own scope only."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final
from uuid import UUID

import msgspec
from sqlalchemy import select

from stallkeep.store.connection import Connection
from stallkeep.store.query import Query
from stallkeep.store.statements import add_row, change_row, columns_of, here
from stallkeep.store.tables import shop


class Shop(msgspec.Struct, frozen=True, gc=False):
    """One seller's business. `match_threshold` is a probability, `currency` an ISO 4217 code.

    The tax columns hold from `tax_from` on (None: from the beginning); `tax_before` lists what held
    before, each with the same columns.
    """

    shop_id: UUID
    name: str
    currency: str
    time_zone: str
    languages: list[str]
    match_threshold: float
    tax_mode: str
    tax_rates: list[Any]
    tax_round_per: str
    tax_parts_apart: bool
    reclaims_tax: bool
    tax_from: dt.date | None
    tax_before: list[Any]
    cash_step_minor: int | None
    price_points: Any
    created_at: dt.datetime
    version: int


_HERE = select(*columns_of(shop, Shop)).where(here(shop))
_FIND: Final = Query(_HERE, Shop)
_LOCK: Final = Query(_HERE.with_for_update(), Shop)
_ADD: Final = add_row(shop, Shop)
_HAS_MONEY: Final = """
select exists (select from transaction where shop_id = $1)
    or exists (select from sale where shop_id = $1) or exists (select from cost where shop_id = $1)
"""
_CHANGE: Final = change_row(shop, Shop, here(shop))


async def find_shop(con: Connection, shop_id: UUID) -> Shop | None:
    """Read the shop whose scope this is."""
    return await _FIND.first(con, shop_id=shop_id)


async def lock_shop(con: Connection, shop_id: UUID) -> Shop:
    """Read the shop; nobody changes it until the transaction ends."""
    return await _LOCK.one(con, shop_id=shop_id)


async def has_money(con: Connection, shop_id: UUID) -> bool:
    """Whether there is any transaction, sale or cost."""
    return bool(await con.fetchval(_HAS_MONEY, shop_id))


async def add_shop(con: Connection, values: Mapping[str, object]) -> Shop:
    """Write a new shop, inside the scope of its own id."""
    return await _ADD.one(con, values)


async def change_shop(con: Connection, shop_id: UUID, values: Mapping[str, object]) -> Shop:
    """Change the columns named in *values* and count the version up."""
    return await _CHANGE.one(con, values, shop_id=shop_id)
