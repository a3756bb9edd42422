"""One cost of several events, shared to the last minor unit.

Source of the rule for what is left over: largest remainder (`money.apportion`); of equal
remainders the event named first gets it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, TypeAlias

import msgspec

from stallkeep.domain.errors import CostSplitError
from stallkeep.domain.money import apportion, to_text

SplitBy: TypeAlias = Literal["equal", "days", "shares"]


class PartOf(msgspec.Struct, frozen=True, kw_only=True):
    """What an event's part of a shared cost is a part of.

    Attributes:
        whole_minor: The whole cost.
        split_by: equal, days or shares.
        share: Of this event: 1, its days, or its given share.
        shares: Of all events together.
        events: How many events share it.
    """

    whole_minor: int
    split_by: SplitBy
    share: int
    shares: int
    events: int

    def words(self, currency: str) -> str:
        """Say it for a pencil."""
        whole = to_text(self.whole_minor, currency)
        weight = {
            "equal": "in equal parts",
            "days": f"by days, {self.share} of {self.shares}",
            "shares": f"by shares, {self.share} of {self.shares}",
        }[self.split_by]
        return f"part of {whole} for {self.events} events, {weight}"


def weights_of(
    split_by: SplitBy, days: Sequence[int], shares: Sequence[int | None]
) -> tuple[int, ...]:
    """Tell each event's share of a cost.

    Args:
        split_by: How.
        days: Days of each event, at least 1.
        shares: The share given for each event; None where none was.

    Raises:
        CostSplitError: Shares are given where they do not count, or are not where they do.
    """
    if split_by == "shares":
        if any(share is None for share in shares):
            raise CostSplitError("Split by shares, every event needs its share")
        return tuple(share for share in shares if share is not None)
    if any(share is not None for share in shares):
        raise CostSplitError(f"A share counts only when split by shares, not {split_by}")
    return tuple(days) if split_by == "days" else (1,) * len(days)


def split_cost(
    amount_minor: int, tax_minor: int | None, weights: Sequence[int]
) -> list[tuple[int, int | None]]:
    """Share an amount and the tax within it.

    Returns:
        Amount and tax of each event in the order of *weights*; each column sums to its whole.

    Raises:
        UnsplittableAmountError: No weights, all zero, or a negative one.
    """
    amounts = apportion(amount_minor, weights)
    if tax_minor is None:
        return [(amount, None) for amount in amounts]
    return list(zip(amounts, apportion(tax_minor, weights), strict=True))
