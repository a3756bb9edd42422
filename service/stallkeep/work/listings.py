"""Keep the listings: what is on offer where."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from uuid import UUID

from stallkeep.store import items, listings
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.work.references import need_channel
from stallkeep.work.stock_errors import ListingNotFoundError, UnknownReferenceError
from stallkeep.work.versions import Expected


async def read_listing(con: Connection, shop_id: UUID, listing_id: UUID) -> listings.Listing:
    """Read one listing.

    Raises:
        ListingNotFoundError: The shop has none with this id.
    """
    return _found(await listings.find_listing(con, shop_id, listing_id), listing_id)


async def add_listing(
    con: Connection, shop_id: UUID, values: Mapping[str, object]
) -> listings.Listing:
    """Put an item on offer; the title is the item's unless another is given.

    Raises:
        UnknownReferenceError: The shop has no such channel or item.
        ReferenceTakenError: The channel has a listing of this reference.
    """
    item_id = UUID(str(values["item_id"]))
    await need_channel(con, shop_id, UUID(str(values["channel_id"])))
    item = await items.find_item(con, shop_id, item_id)
    if item is None:
        raise UnknownReferenceError(f"The shop has no item {item_id}", "#/item_id")
    own = {"shop_id": shop_id, "id": new_id(), "title": values.get("title") or item.title}
    return await listings.add_listing(con, {**values, **own})


async def change_listing(  # noqa: PLR0917 - one of them is the clock
    con: Connection,
    shop_id: UUID,
    listing_id: UUID,
    values: Mapping[str, object],
    expected: Expected,
    today: dt.date,
) -> listings.Listing:
    """Change the columns named in *values*; one that ends without a day ends today.

    Raises:
        ListingNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
        ReferenceTakenError: The channel has another listing of this reference.
    """
    listing = _found(await listings.lock_listing(con, shop_id, listing_id), listing_id)
    expected.check(listing.version)
    ends = values.get("state", "live") != "live" and listing.state == "live"
    if ends and "ended_on" not in values:
        values = {**values, "ended_on": today}
    return await listings.change_listing(con, shop_id, listing_id, values)


async def remove_listing(
    con: Connection, shop_id: UUID, listing_id: UUID, expected: Expected
) -> None:
    """Remove a listing that was a mistake; one that is over should be ended instead.

    Raises:
        ListingNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
    """
    listing = _found(await listings.lock_listing(con, shop_id, listing_id), listing_id)
    expected.check(listing.version)
    await listings.remove_listing(con, shop_id, listing_id)


def _found(listing: listings.Listing | None, listing_id: UUID) -> listings.Listing:
    if listing is None:
        raise ListingNotFoundError(f"There is no listing {listing_id}")
    return listing
