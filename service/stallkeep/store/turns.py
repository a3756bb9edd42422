"""Turns: what only one transaction does at a time, under a name that the database holds for it."""

from __future__ import annotations

from typing import Final
from uuid import UUID

from stallkeep.store.connection import Connection

_TAKE: Final = "select pg_advisory_xact_lock(hashtextextended($1, 0))"


async def take_turn(con: Connection, name: str) -> None:
    """Wait until no other transaction has the turn of this name; it is kept to the end."""
    await con.execute(_TAKE, name)


async def matching_turn(con: Connection, shop_id: UUID) -> None:
    """Wait until no run and no other word changes the shop's matches. Before any sale is locked."""
    await take_turn(con, f"matching/{shop_id}")


async def trips_turn(con: Connection, shop_id: UUID) -> None:
    """Wait until nobody else changes trips of the shop. Before anything is locked."""
    await take_turn(con, f"{shop_id}/trips")


async def sale_turn(con: Connection, shop_id: UUID, sale_id: UUID) -> None:
    """Wait until nobody else is writing a sale of this id."""
    await take_turn(con, f"{shop_id}/sale/{sale_id}")
