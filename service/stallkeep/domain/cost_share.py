"""How much of a price is cost, for pieces and payments whose cost is not known."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from stallkeep.domain.event_facts import EventFacts
from stallkeep.domain.money import half_up

MILLION = 1_000_000


class CostShare(msgspec.Struct, frozen=True, kw_only=True):
    """Cost as a share of price, in parts per million.

    Attributes:
        expected_ppm: All cost over all prices of the pieces it comes from.
        low_ppm: Lowest share of a single one of them.
        high_ppm: Highest share of a single one.
        pieces: How many pieces it comes from; with 0 nothing is known: from nothing to all of
            the price, 0 expected.
    """

    expected_ppm: int = 0
    low_ppm: int = 0
    high_ppm: int = MILLION
    pieces: int = 0

    def of(self, price_minor: int) -> tuple[int, int, int]:
        """Estimate the cost behind a price: expected, lowest, highest, in minor units."""
        return (
            half_up(price_minor * self.expected_ppm, MILLION),
            half_up(price_minor * self.low_ppm, MILLION),
            half_up(price_minor * self.high_ppm, MILLION),
        )


def cost_share(facts: EventFacts) -> CostShare:
    """Learn the share from the event's sold pieces with a known cost, else from its rail."""
    sold = [
        (piece.price_minor, piece.cost_minor)
        for line in facts.takings
        for piece in line.pieces
        if piece.cost_minor is not None and piece.price_minor > 0 and not piece.is_returned
    ]
    taken = [
        (piece.price_minor, piece.cost_minor)
        for piece in facts.rail
        if piece.cost_minor is not None and piece.price_minor
    ]
    return share_of(sold or taken)


def share_of(prices_and_costs: Iterable[tuple[int, int]]) -> CostShare:
    """Work out the share from pairs of price (above 0) and cost."""
    pairs = list(prices_and_costs)
    if not pairs:
        return CostShare()
    shares = [half_up(cost * MILLION, price) for price, cost in pairs]
    prices = sum(price for price, _ in pairs)
    expected = half_up(sum(cost for _, cost in pairs) * MILLION, prices)
    return CostShare(
        expected_ppm=expected, low_ppm=min(shares), high_ppm=max(shares), pieces=len(pairs)
    )
