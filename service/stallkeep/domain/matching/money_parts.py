"""Sharing a line's amount among its pieces."""

from __future__ import annotations

from collections.abc import Sequence

from stallkeep.domain.money import apportion


def shared(amount_minor: int, prices: Sequence[int]) -> tuple[int, ...]:
    """Split by tag price so that the parts sum to the amount.

    Pieces without a price (0) share evenly what the tags of the others leave.
    """
    known = [price for price in prices if price > 0]
    unknown = len(prices) - len(known)
    left = (amount_minor if not known else max(amount_minor - sum(known), 0)) if unknown else 0
    evenly = iter(apportion(left, [1] * unknown) if unknown else ())
    by_price = iter(apportion(amount_minor - left, known) if known else ())
    return tuple(next(by_price) if price > 0 else next(evenly) for price in prices)
