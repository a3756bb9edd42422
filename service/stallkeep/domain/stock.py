"""The stock on hand at a date, at what it cost."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import msgspec


class StockItem(msgspec.Struct, frozen=True, kw_only=True):
    """An item's way through the stock.

    Attributes:
        item_id: Its id.
        acquired_on: Day it came in; None counts as always having been there.
        quantity: Pieces that came in.
        cost_minor: Cost of one (its average, for pieces held in number); None when not known.
        gone: Days on which pieces left, sold or otherwise, each with how many; a piece that came
            back has a minus.
        category: As in stock.
        worth_minor: What all pieces there cost together, where that is not known piece by piece
            (held in batches); None for pieces x cost of one.
    """

    item_id: str
    acquired_on: dt.date | None
    quantity: int
    cost_minor: int | None
    gone: tuple[tuple[dt.date, int], ...] = ()
    category: str | None = None
    worth_minor: int | None = None


class StockLine(msgspec.Struct, frozen=True, kw_only=True):
    """Stock on hand of one category.

    Attributes:
        category: None for pieces without one.
        pieces: On hand.
        cost_minor: What they cost, as far as known.
        without_cost: Pieces whose cost is not known.
    """

    category: str | None
    pieces: int
    cost_minor: int
    without_cost: int


class StockOnHand(msgspec.Struct, frozen=True, kw_only=True):
    """Stock at the end of a day.

    Attributes:
        on: The day.
        pieces: On hand.
        cost_minor: What they cost, as far as known.
        without_cost: Pieces whose cost is not known.
        categories: By name, pieces without a category last.
    """

    on: dt.date
    pieces: int
    cost_minor: int
    without_cost: int
    categories: tuple[StockLine, ...]


def stock_on_hand(items: Iterable[StockItem], on: dt.date) -> StockOnHand:
    """Count the stock at the end of a day and what it cost."""
    groups: dict[str | None, list[int]] = {}
    for item in items:
        pieces = held_on(item, on)
        if pieces > 0:
            sums = groups.setdefault(item.category, [0, 0, 0])
            sums[0] += pieces
            worth = item.worth_minor
            sums[1] += pieces * (item.cost_minor or 0) if worth is None else worth
            sums[2] += pieces if item.cost_minor is None else 0
    lines = tuple(
        StockLine(category=name, pieces=sums[0], cost_minor=sums[1], without_cost=sums[2])
        for name, sums in sorted(groups.items(), key=lambda pair: (pair[0] is None, pair[0] or ""))
    )
    return StockOnHand(
        on=on,
        pieces=sum(line.pieces for line in lines),
        cost_minor=sum(line.cost_minor for line in lines),
        without_cost=sum(line.without_cost for line in lines),
        categories=lines,
    )


def held_on(item: StockItem, on: dt.date) -> int:
    """Tell how many pieces of an item were there at the end of a day; never below 0."""
    if item.acquired_on is not None and item.acquired_on > on:
        return 0
    return max(0, item.quantity - sum(count for day, count in item.gone if day <= on))
