"""Listings: items on offer on a channel."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Final
from uuid import UUID

import msgspec
from sqlalchemy import bindparam

from stallkeep.store.connection import Connection
from stallkeep.store.constraints import naming_constraints
from stallkeep.store.lists import KeysetList
from stallkeep.store.statements import add_row, change_row, find_by_id, remove_by_id
from stallkeep.store.tables import LISTING_STATES, listing


class Listing(msgspec.Struct, frozen=True, gc=False):
    """One offer; `reference` is the channel's own name for it."""

    id: UUID
    channel_id: UUID
    item_id: UUID
    reference: str
    title: str
    price_minor: int | None
    state: str
    listed_on: dt.date | None
    ended_on: dt.date | None
    import_id: UUID | None
    created_at: dt.datetime
    version: int


_FIND: Final = find_by_id(listing, Listing)
_LOCK: Final = find_by_id(listing, Listing, lock=True)
_ADD: Final = add_row(listing, Listing)
_CHANGE: Final = change_row(listing, Listing)
_REMOVE: Final = remove_by_id(listing)
_LIST: Final = KeysetList(
    listing,
    Listing,
    (listing.c.id,),
    {
        "channel_id": listing.c.channel_id == bindparam("channel_id"),
        "item_id": listing.c.item_id == bindparam("item_id"),
        "state": {word: listing.c.state == word for word in LISTING_STATES},
    },
)


async def find_listing(con: Connection, shop_id: UUID, listing_id: UUID) -> Listing | None:
    """Read one listing."""
    return await _FIND.first(con, shop_id=shop_id, id=listing_id)


async def lock_listing(con: Connection, shop_id: UUID, listing_id: UUID) -> Listing | None:
    """Read one listing; nobody changes it until the transaction ends."""
    return await _LOCK.first(con, shop_id=shop_id, id=listing_id)


async def list_listings(
    con: Connection,
    shop_id: UUID,
    filters: Mapping[str, object],
    *,
    after: Sequence[object] | None,
    limit: int,
) -> list[Listing]:
    """Read the newest listings first; filters are channel_id, item_id and state."""
    return await _LIST.read(con, shop_id, filters, after=after, limit=limit)


async def add_listing(con: Connection, values: Mapping[str, object]) -> Listing:
    """Write a new listing."""
    return await _ADD.one(con, values)


async def change_listing(
    con: Connection, shop_id: UUID, listing_id: UUID, values: Mapping[str, object]
) -> Listing:
    """Change the columns named in *values*."""
    return await _CHANGE.one(con, values, shop_id=shop_id, id=listing_id)


async def remove_listing(con: Connection, shop_id: UUID, listing_id: UUID) -> None:
    """Delete a listing."""
    with naming_constraints():
        await _REMOVE.execute(con, shop_id=shop_id, id=listing_id)
