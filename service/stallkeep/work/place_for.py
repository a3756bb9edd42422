"""Which channel and event a file belongs to, when nobody says."""

from __future__ import annotations

from typing import BinaryIO, Final
from uuid import UUID

import msgspec

from stallkeep.store.column_maps import find_column_map
from stallkeep.store.connection import Connection
from stallkeep.store.shops import Shop
from stallkeep.work.known_layout import layout_mark
from stallkeep_importers.contract import Importer, Options

KIND_OF: Final = {
    "card-reader-payments": "stall",
    "card-reader-payouts": "stall",
    "cash-tally": "stall",
    "resale-sales": "online",
    "resale-listings": "online",
}
"""Kind of channel that an importer's files come from; others may come from any."""

OF_A_CHANNEL: Final = frozenset({"transaction", "listing"})


class Place(msgspec.Struct, frozen=True):
    """Channel and event of a file; `doubt` says what could not be told."""

    channel_id: UUID | None = None
    event_id: UUID | None = None
    doubt: str | None = None


async def place_for(
    con: Connection,
    shop: Shop,
    importer: Importer,
    file: BinaryIO,
    *,
    options: Options,
    folder: str | None = None,
) -> Place:
    """Find out where a file's rows belong.

    In this order: the folder it lies in, named like a channel or an event; the channel that a
    file of the same layout went to before; the only channel of the fitting kind.
    """
    if folder is not None:
        named = await named_place(con, shop, folder)
        if named is not None:
            return named
    if not importer.gives & OF_A_CHANNEL:
        return Place()
    remembered = await _remembered(con, shop, importer, file, options)
    if remembered is not None:
        return Place(channel_id=remembered)
    return await _only_fitting(con, shop, importer)


async def named_place(con: Connection, shop: Shop, name: str) -> Place | None:
    """Find the channel, or the only event, of this name."""
    channel = await con.fetchval(
        "select id from channel where shop_id = $1 and lower(name) = lower($2)",
        shop.shop_id,
        name,
    )
    if channel is not None:
        return Place(channel_id=channel)
    events = await con.fetch(
        "select id, channel_id from event where shop_id = $1 and lower(name) = lower($2)",
        shop.shop_id,
        name,
    )
    if len(events) == 1:
        return Place(channel_id=events[0]["channel_id"], event_id=events[0]["id"])
    return None


async def _remembered(
    con: Connection, shop: Shop, importer: Importer, file: BinaryIO, options: Options
) -> UUID | None:
    fingerprint = layout_mark(importer, file, options)
    if fingerprint is None:
        return None
    kept = await find_column_map(con, shop.shop_id, importer.name, fingerprint)
    return None if kept is None else kept.channel_id


async def _only_fitting(con: Connection, shop: Shop, importer: Importer) -> Place:
    kind = KIND_OF.get(importer.name)
    rows = await con.fetch(
        "select id, name from channel where shop_id = $1 and ($2::text is null or kind = $2) "
        "order by name",
        shop.shop_id,
        kind,
    )
    if len(rows) == 1:
        return Place(channel_id=rows[0]["id"])
    names = ", ".join(row["name"] for row in rows) or "none"
    return Place(
        doubt=f"It is not clear which channel this file is from (fitting: {names}). Put it into a "
        "folder named like the channel; its kind is remembered from then on."
    )
