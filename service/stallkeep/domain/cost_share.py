"""How much of a price is cost, for pieces and payments whose cost is not known."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

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


class PricesAndCosts(msgspec.Struct, frozen=True, kw_only=True):
    """Pieces with a price above 0 and a known cost, added up.

    Attributes:
        pieces: How many, at least 1.
        price_minor: All their prices.
        cost_minor: All their costs.
        low_ppm: Lowest share of cost in price of a single one, half up.
        high_ppm: Highest share of a single one.
    """

    pieces: int
    price_minor: int
    cost_minor: int
    low_ppm: int
    high_ppm: int

    def share(self) -> CostShare:
        """Work out the share of cost in price."""
        return CostShare(
            expected_ppm=half_up(self.cost_minor * MILLION, self.price_minor),
            low_ppm=self.low_ppm,
            high_ppm=self.high_ppm,
            pieces=self.pieces,
        )


def prices_and_costs(pairs: Iterable[tuple[int | None, int | None]]) -> PricesAndCosts | None:
    """Add up pairs of price and cost, those without either left out; None without any."""
    known = [(price, cost) for price, cost in pairs if price and cost is not None]
    if not known:
        return None
    shares = [half_up(cost * MILLION, price) for price, cost in known]
    return PricesAndCosts(
        pieces=len(known),
        price_minor=sum(price for price, _ in known),
        cost_minor=sum(cost for _, cost in known),
        low_ppm=min(shares),
        high_ppm=max(shares),
    )


def share_of(pairs: Iterable[tuple[int | None, int | None]]) -> CostShare:
    """Work out the share from pairs of price and cost."""
    known = prices_and_costs(pairs)
    return known.share() if known else CostShare()
