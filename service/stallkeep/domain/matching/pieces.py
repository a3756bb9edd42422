"""The pieces that may have been sold, and what is known of each."""

from __future__ import annotations

import datetime as dt

import msgspec


class SoldElsewhere(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A sale of the piece on another channel.

    Attributes:
        day: Day of that sale.
        quantity: Pieces sold there.
        probability: How sure it is that it was this piece; 1 for a matched sale.
    """

    day: dt.date
    quantity: int = 1
    probability: float = 1.0


class RailPiece(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A piece that may have been sold: on the rail of an event, or in stock for a channel.

    Attributes:
        item_id: Id of the item.
        tag_code: Code on its swing tag.
        title: As in stock.
        category: As in stock.
        price_minor: What the tag (or the listing) said at that time; None when unknown.
        quantity: Pieces taken; at least 1.
        put_out_at: Moment it was put out, where known.
        put_out_on: Day it was put out; None means from the start.
        counted_home: Pieces the stock count found; None when there was no count.
        sold_elsewhere: Sales of it on other channels.
        cost_minor: What it cost the shop.
        floor_minor: The lowest price the seller meant to take.
        references: Outside references of its listings, exactly as given.
        listed_on: First day on offer on the channel.
        ended_on: Day the listing ended.
    """

    item_id: str
    tag_code: str | None = None
    title: str = ""
    category: str | None = None
    price_minor: int | None = None
    quantity: int = 1
    put_out_at: dt.datetime | None = None
    put_out_on: dt.date | None = None
    counted_home: int | None = None
    sold_elsewhere: tuple[SoldElsewhere, ...] = ()
    cost_minor: int | None = None
    floor_minor: int | None = None
    references: tuple[str, ...] = ()
    listed_on: dt.date | None = None
    ended_on: dt.date | None = None
