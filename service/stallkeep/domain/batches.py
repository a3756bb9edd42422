"""Cost of pieces held in number: batches bought or made together, and the moving average.

A one-off has its own cost. Of pieces that nobody can tell apart, each sale costs the average of
what is there on its day: (cost of all that is held) x (pieces sold) / (pieces held), half up. Only
what a sale takes is rounded; the rest stays with the pieces left, so that nothing is lost:

    cost of all batches = cost of all sales + cost of what is left
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator

import msgspec

from stallkeep.domain.errors import StockLotError
from stallkeep.domain.money import half_up


class Batch(msgspec.Struct, frozen=True, kw_only=True):
    """Pieces of one item bought or made together.

    Attributes:
        quantity: Pieces, at least 1.
        cost_minor: Cost of all of them.
        acquired_on: Day they came in; None counts as always having been there.
    """

    quantity: int
    cost_minor: int
    acquired_on: dt.date | None = None


class SoldOff(msgspec.Struct, frozen=True, kw_only=True):
    """Pieces of the item sold together."""

    quantity: int
    sold_on: dt.date


class StockMove(msgspec.Struct, frozen=True, kw_only=True):
    """One line of an item's stock card.

    Attributes:
        on: Its day; None for a batch that was always there.
        quantity: Pieces that came in (plus) or were sold (minus).
        cost_minor: What they cost, signed like the pieces.
        left: Pieces there afterwards.
        left_cost_minor: What those cost.
    """

    on: dt.date | None
    quantity: int
    cost_minor: int
    left: int
    left_cost_minor: int


def stock_card(batches: Iterable[Batch], sold: Iterable[SoldOff]) -> tuple[StockMove, ...]:
    """Follow the pieces of an item held in number, day by day.

    Args:
        batches: Any order; those of one day stay in the order given.
        sold: Any order; likewise. On one day batches come before sales. Where more is sold than
            was there, the next batch is taken to have been there already: somebody dated it late.

    Raises:
        StockLotError: More was sold than ever came in.

    Source:
        Weighted average, perpetual, as in OpenStax, Principles of Accounting, volume 1, chapter 10.
    """
    return tuple(_moves(batches, sold))


def _moves(batches: Iterable[Batch], sold: Iterable[SoldOff]) -> Iterator[StockMove]:
    coming = sorted(batches, key=lambda batch: batch.acquired_on or dt.date.min)[::-1]
    left = left_cost_minor = 0
    for sale in sorted(sold, key=lambda sale: sale.sold_on):
        while coming and (_is_there(coming[-1], sale.sold_on) or left < sale.quantity):
            yield (move := _came(coming.pop(), left, left_cost_minor))
            left, left_cost_minor = move.left, move.left_cost_minor
        if left < sale.quantity:
            raise StockLotError(f"{sale.quantity} pieces sold, {left} held")
        taken = half_up(left_cost_minor * sale.quantity, left)
        left, left_cost_minor = left - sale.quantity, left_cost_minor - taken
        yield StockMove(
            on=sale.sold_on,
            quantity=-sale.quantity,
            cost_minor=-taken,
            left=left,
            left_cost_minor=left_cost_minor,
        )
    while coming:
        yield (move := _came(coming.pop(), left, left_cost_minor))
        left, left_cost_minor = move.left, move.left_cost_minor


def _is_there(batch: Batch, day: dt.date) -> bool:
    return batch.acquired_on is None or batch.acquired_on <= day


def _came(batch: Batch, left: int, left_cost_minor: int) -> StockMove:
    return StockMove(
        on=batch.acquired_on,
        quantity=batch.quantity,
        cost_minor=batch.cost_minor,
        left=left + batch.quantity,
        left_cost_minor=left_cost_minor + batch.cost_minor,
    )
