"""Stock and listings as far as taking in an export of listings needs them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Final
from uuid import UUID

from stallkeep.domain.listing_intake import StockItem, StoredListing
from stallkeep.store.connection import Connection

_LISTINGS: Final = """
select reference, id, item_id, title, price_minor, state, listed_on, ended_on
  from listing where shop_id = $1 and channel_id = $2 and reference = any($3)
"""
_ITEMS: Final = """
select i.id, i.tag_code, i.title, i.size, i.price_minor,
       exists (select from listing l where l.shop_id = i.shop_id and l.item_id = i.id
                  and l.channel_id = $2 and l.state = 'live') as on_channel
  from item i where i.shop_id = $1 and (i.tag_code = any($3) or i.title = any($4))
"""
_TAKEN_CODES: Final = "select tag_code from item where shop_id = $1 and tag_code = any($2)"
_ADD_ITEM: Final = """
insert into item (shop_id, id, tag_code, title, category, size, quantity, price_minor,
                  acquired_on, import_id)
values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
"""
_ADD_LISTING: Final = """
insert into listing (shop_id, id, channel_id, item_id, reference, title, price_minor, state,
                     listed_on, ended_on, import_id)
values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
"""
_CHANGE_LISTING: Final = """
update listing set title = $3, price_minor = $4, state = $5,
       listed_on = coalesce($6, listed_on), ended_on = coalesce($7, ended_on),
       version = version + 1
 where shop_id = $1 and id = $2
"""
_FILL_ITEM: Final = """
update item set category = coalesce(category, $3), size = coalesce(size, $4),
       price_minor = coalesce(price_minor, $5), version = version + 1
 where shop_id = $1 and id = $2
   and ((category is null and $3::text is not null) or (size is null and $4::text is not null)
        or (price_minor is null and $5::bigint is not null))
"""


async def known_listings(
    con: Connection, shop_id: UUID, channel_id: UUID, references: Sequence[str]
) -> dict[str, StoredListing]:
    """Read the channel's listings that have one of these references."""
    rows = await con.fetch(_LISTINGS, shop_id, channel_id, list(references))
    return {
        row["reference"]: StoredListing(
            id=row["id"],
            item_id=row["item_id"],
            title=row["title"],
            price_minor=row["price_minor"],
            state=row["state"],
            listed_on=row["listed_on"],
            ended_on=row["ended_on"],
        )
        for row in rows
    }


async def stock_like(
    con: Connection, shop_id: UUID, channel_id: UUID, codes: Sequence[str], titles: Sequence[str]
) -> list[StockItem]:
    """Read the items with one of these codes or titles."""
    rows = await con.fetch(_ITEMS, shop_id, channel_id, list(codes), list(titles))
    return [
        StockItem(
            id=row["id"],
            tag_code=row["tag_code"],
            title=row["title"],
            size=row["size"],
            price_minor=row["price_minor"],
            on_channel=row["on_channel"],
        )
        for row in rows
    ]


async def taken_codes(con: Connection, shop_id: UUID, codes: Sequence[str]) -> set[str]:
    """Tell which of these codes an item has already."""
    return {row["tag_code"] for row in await con.fetch(_TAKEN_CODES, shop_id, list(codes))}


async def add_items(con: Connection, rows: Iterable[Sequence[object]]) -> None:
    """Write items: shop, id, code, title, category, size, quantity, price, acquired on, import."""
    await con.executemany(_ADD_ITEM, rows)


async def add_listings(con: Connection, rows: Iterable[Sequence[object]]) -> None:
    """Write listings: shop, id, channel, item, reference, title, price, state, days, import."""
    await con.executemany(_ADD_LISTING, rows)


async def change_listing(
    con: Connection,
    shop_id: UUID,
    listing_id: UUID,
    *,
    title: str,
    price_minor: int | None,
    state: str,
    listed_on: dt.date | None,
    ended_on: dt.date | None,
) -> None:
    """Bring a listing up to date; a day the export does not give stays."""
    await con.execute(
        _CHANGE_LISTING, shop_id, listing_id, title, price_minor, state, listed_on, ended_on
    )


async def fill_item(
    con: Connection,
    shop_id: UUID,
    item_id: UUID,
    *,
    category: str | None,
    size: str | None,
    price_minor: int | None,
) -> None:
    """Complete an item where the stock has nothing yet; what a person entered stays."""
    await con.execute(_FILL_ITEM, shop_id, item_id, category, size, price_minor)
