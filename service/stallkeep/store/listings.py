"""Listings: items on offer on a channel."""

from __future__ import annotations

import datetime as dt
from typing import Final
from uuid import UUID

import msgspec
from sqlalchemy import bindparam

from stallkeep.store.lists import KeysetList
from stallkeep.store.rows import Rows
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


_LISTINGS: Final = Rows(listing, Listing)
find_listing = _LISTINGS.find
lock_listing = _LISTINGS.lock
add_listing = _LISTINGS.add
change_listing = _LISTINGS.change
remove_listing = _LISTINGS.remove

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
list_listings = _LIST.read
"""Read the newest listings first; filters are channel_id, item_id and state."""
