"""What an exported listing means for the stock: a new piece, another offer of one, or a change."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Literal, TypeAlias
from uuid import UUID

import msgspec

from stallkeep_importers.contract import Listing

Step: TypeAlias = Literal["known", "changed", "new_listing", "new_item"]


class StoredListing(msgspec.Struct, frozen=True, kw_only=True):
    """A listing as it is stored."""

    id: UUID
    item_id: UUID
    title: str
    price_minor: int | None
    state: str
    listed_on: dt.date | None
    ended_on: dt.date | None


class StockItem(msgspec.Struct, frozen=True, kw_only=True):
    """As much of an item as linking needs."""

    id: UUID
    tag_code: str
    title: str
    size: str | None
    price_minor: int | None
    on_channel: bool


class Decision(msgspec.Struct, frozen=True, kw_only=True):
    """What to do with one listing row.

    Attributes:
        step: known, changed, new_listing (of *item_id*) or new_item (and a listing of it).
        item_id: The piece on offer; None only for new_item.
        by_title: True when the piece was found by title, size and price and not by code.
        perhaps: Code of a piece that a new item may be after all: of the same title, and not on
            the channel yet.
    """

    step: Step
    item_id: UUID | None = None
    by_title: bool = False
    perhaps: str | None = None


def decide(
    row: Listing,
    stored: StoredListing | None,
    by_code: StockItem | None,
    by_title: Sequence[StockItem],
) -> Decision:
    """Choose the step for one listing of an export.

    Args:
        row: The listing as read.
        stored: The listing already stored under the same channel and reference.
        by_code: The item that carries the row's tag code.
        by_title: Items whose title equals the row's.

    Returns:
        A piece without a code is linked to an item only when exactly one item has the same
        title, size and price and is not on this channel yet; otherwise it becomes a new item.
    """
    if stored is not None:
        same = (
            stored.title == row.title
            and stored.price_minor == row.price_minor
            and stored.state == row.state
            and (row.listed_on is None or stored.listed_on == row.listed_on)
            and (row.ended_on is None or stored.ended_on == row.ended_on)
        )
        return Decision(step="known" if same else "changed", item_id=stored.item_id)
    if by_code is not None:
        return Decision(step="new_listing", item_id=by_code.id)
    if row.tag_code is None:
        alike = [
            item
            for item in by_title
            if not item.on_channel
            and item.price_minor == row.price_minor
            and (item.size or "") == (row.size or "")
        ]
        if len(alike) == 1:
            return Decision(step="new_listing", item_id=alike[0].id, by_title=True)
    perhaps = next((item.tag_code for item in by_title if not item.on_channel), None)
    return Decision(step="new_item", perhaps=perhaps)
