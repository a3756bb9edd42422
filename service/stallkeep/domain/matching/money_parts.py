"""Sharing a line's amount among its pieces."""

from __future__ import annotations

from collections.abc import Sequence

from stallkeep.domain.money import apportion


def shared(amount_minor: int, prices: Sequence[int]) -> tuple[int, ...]:
    """Split by tag price so that the parts sum to the amount; evenly where no tag has a price."""
    if not prices:
        return ()
    weights = list(prices) if sum(prices) > 0 else [1] * len(prices)
    return tuple(apportion(amount_minor, weights))
