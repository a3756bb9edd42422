"""Pieces recorded as sold under a margin scheme for second-hand goods."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from stallkeep.domain.event_facts import SoldPiece


class MarginScheme(msgspec.Struct, frozen=True, kw_only=True):
    """Pieces recorded as sold under a margin scheme: a report column, not a tax computation.

    Attributes:
        pieces: Pieces sold, brought back ones left out.
        sales_minor: What they brought.
        cost_minor: What they had cost, as far as known.
        margin_minor: sales - cost over the pieces with a known cost.
        without_cost: Pieces whose cost is not known.
    """

    pieces: int
    sales_minor: int
    cost_minor: int
    margin_minor: int
    without_cost: int


def margin_scheme(sold: Iterable[SoldPiece]) -> MarginScheme | None:
    """Add up what of the pieces sold was under a margin scheme; None when nothing was."""
    under = [piece for piece in sold if piece.margin_scheme]
    if not under:
        return None
    known = [
        (piece.price_minor, piece.cost_minor) for piece in under if piece.cost_minor is not None
    ]
    cost = sum(cost for _, cost in known)
    return MarginScheme(
        pieces=sum(piece.quantity for piece in under),
        sales_minor=sum(piece.price_minor for piece in under),
        cost_minor=cost,
        margin_minor=sum(price for price, _ in known) - cost,
        without_cost=sum(piece.quantity for piece in under if piece.cost_minor is None),
    )
