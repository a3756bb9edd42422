"""How likely an amount is for something about which only the shop's usual prices are known."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

USUAL = 0.5  # share of amounts that end as the rail's own tags do
WHOLE, HALF, TENTH, ANY = 0.8, 0.08, 0.06, 0.06  # how the others end, common practice, no source
ROUND = 0.55  # of amounts in whole steps, those in fives


class AnyAmount:
    """Log-normal around the usual price, a tenth of it spread wide, over how amounts end.

    A factor e either way is one deviation. An amount *ends* with what lies beyond whole steps:
    5.00 and 12.00 end alike, 8.95 does not.
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
        """Probability of *amount*, at most 1; 0 unless it is positive."""
        if amount <= 0:
            return 0.0
        width, share = self.step, self._end(amount % self.step)
        if amount % (5 * self.step) == 0:
            width, share = 5 * self.step, share * ROUND
        elif amount % self.step == 0:
            share *= 1 - ROUND
        away = math.log(amount / self.typical)
        density = 0.9 * math.exp(-0.5 * away * away) / math.sqrt(2 * math.pi)
        density += 0.1 / (math.log(400.0) * max(1.0, abs(away) / math.log(20.0)))
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
