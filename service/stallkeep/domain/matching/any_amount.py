"""How likely an amount is for something about which only the shop's usual prices are known."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence

USUAL = 0.5  # share of amounts that end as the rail's own tags do
WHOLE, HALF, TENTH, ANY = 0.8, 0.08, 0.06, 0.06  # how the others end, common practice, no source
ROUND = 0.55  # of amounts in whole steps, those in fives
WIDE = 0.1  # share spread over all amounts
CHEAP, CHEAPER = 0.7, 0.25  # share of small things in what has no tag, their price to the usual one
CHEAP_SPREAD, SAME_SPREAD = 0.8, 0.7  # in factors of e


class AnyAmount:
    """How prices spread around the usual one, and how amounts end.

    An amount *ends* with what lies beyond whole steps: 5.00 and 12.00 end alike, 8.95 does not.
    """

    def __init__(self, tags: Sequence[int], typical: int, step: int) -> None:
        """Prepare.

        Args:
            tags: The rail's tag prices, minor units.
            typical: The usual price.
            step: From price_step.
        """
        self.typical, self.step = typical, step
        self.ends = Counter(tag % step for tag in tags)
        self.number = max(len(tags), 1)

    def likelihood(self, amount: int) -> float:
        """Probability of *amount* for a piece whose tag has no price, at most 1.

        Log-normal around the usual price, a factor e either way is one deviation.
        """
        return self._likely(amount, lambda away: _normal(away, 1.0))

    def untagged(self, amount: int) -> float:
        """Probability of *amount* for a thing without a tag, at most 1.

        Most of these are small things that are not worth a tag, the others have lost theirs; common
        practice, no source.
        """
        cheaper = math.log(CHEAPER)
        return self._likely(
            amount,
            lambda away: (
                CHEAP * _normal(away - cheaper, CHEAP_SPREAD)
                + (1 - CHEAP) * _normal(away, SAME_SPREAD)
            ),
        )

    def _likely(self, amount: int, around: Callable[[float], float]) -> float:
        """Turn a density over logarithms of the usual price into the probability of *amount*."""
        if amount <= 0:
            return 0.0
        width, share = self.step, self._end(amount % self.step)
        if amount % (5 * self.step) == 0:
            width, share = 5 * self.step, share * ROUND
        elif amount % self.step == 0:
            share *= 1 - ROUND
        away = math.log(amount / self.typical)
        wide = 1.0 / (math.log(400.0) * max(1.0, abs(away) / math.log(20.0)))
        density = (1 - WIDE) * around(away) + WIDE * wide
        return min(1.0, share * width / amount * density)

    def _end(self, end: int) -> float:
        """Share of amounts that end so."""
        if end == 0:
            others = WHOLE
        elif 2 * end == self.step:
            others = HALF
        elif 10 * end % self.step == 0:
            others = TENTH / 8
        else:
            others = ANY / max(self.step - 10, 1)
        return USUAL * self.ends[end] / self.number + (1 - USUAL) * others


def _normal(away: float, deviation: float) -> float:
    return math.exp(-0.5 * (away / deviation) ** 2) / (math.sqrt(2 * math.pi) * deviation)
