"""Shops from the command line: open one, list them, find the one that is meant."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from uuid import UUID

import asyncpg
from rich.console import Console
from rich.table import Column, Table
from rich.text import Text

from stallkeep.cli.running import run
from stallkeep.config import Settings
from stallkeep.domain.errors import NotFoundError, RejectedInputError
from stallkeep.store.connection import Pool
from stallkeep.store.database import Database
from stallkeep.store.engine import read_scope
from stallkeep.store.shops import Shop, find_shop
from stallkeep.work.open_shop import open_shop

_ALL: Final = "select shop_id, name, currency from shop order by name, shop_id"


def open_new_shop(
    settings: Settings, name: str, currency: str, time_zone: str, languages: Sequence[str]
) -> int:
    """Open a shop and print its id and token."""
    console = Console()

    async def work(pool: Pool, _: Database) -> tuple[Shop, str]:
        return await open_shop(pool, name, currency.upper(), time_zone, languages)

    shop, token = run(settings, work)
    console.print(f"Shop {shop.name}, id {shop.shop_id}", markup=False)
    console.print("Owner's token, shown this once only; keep it like a key:")
    console.print(token, soft_wrap=True)
    return 0


def list_shops(settings: Settings) -> int:
    """Print the shops of the database."""

    async def work(_: Pool, found: Database) -> list[tuple[UUID, str, str]]:
        return await all_shops(found)

    table = Table("Shop", "Currency", Column("Id", no_wrap=True))
    for shop_id, name, currency in run(settings, work):
        table.add_row(Text(name), currency, str(shop_id))
    Console().print(table)
    return 0


async def all_shops(found: Database) -> list[tuple[UUID, str, str]]:
    """Read every shop as the administrator, who alone sees over the walls."""
    if found.admin_url is None:
        return []
    con = await asyncpg.connect(found.admin_url)
    try:
        rows = await con.fetch(_ALL)
    finally:
        await con.close()
    return [(row["shop_id"], row["name"], row["currency"]) for row in rows]


async def chosen_shop(pool: Pool, found: Database, wanted: str | None) -> Shop:
    """Find the shop named, or the only one there is.

    Raises:
        NotFoundError: There is none, or none of that name or id.
        RejectedInputError: There are several and none was named.
    """
    shops = await all_shops(found)
    if wanted is None and len(shops) > 1:
        names = ", ".join(name for _, name, _ in shops)
        raise RejectedInputError(f"Say which shop with --shop; there are {names}")
    ids = [
        shop_id
        for shop_id, name, _ in shops
        if wanted is None or wanted.casefold() in (name.casefold(), str(shop_id))
    ]
    if not ids and wanted is not None:
        ids = _as_id(wanted)
    if len(ids) > 1:
        raise RejectedInputError(f"{len(ids)} shops are called {wanted}; give the id")
    shop = await _read(pool, ids[0]) if ids else None
    if shop is None:
        names = ", ".join(name for _, name, _ in shops)
        there = f"; there are: {names}" if names else ""
        hint = (
            "Open one with: stallkeep open-shop"
            if wanted is None
            else f"None is called {wanted!r}{there}"
        )
        raise NotFoundError(f"There is no such shop here. {hint}")
    return shop


def _as_id(text: str) -> list[UUID]:
    try:
        return [UUID(text)]
    except ValueError:
        return []


async def _read(pool: Pool, shop_id: UUID) -> Shop | None:
    async with read_scope(pool, shop_id) as con:
        return await find_shop(con, shop_id)
