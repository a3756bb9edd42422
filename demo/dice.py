"""Chance that falls alike on every machine and every Python."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")


class Dice:
    """Draws from one seed.

    Only `random.Random.random` is used underneath: its sequence is promised to stay the same from
    one Python to the next, that of ``choice`` or ``shuffle`` is not.
    """

    def __init__(self, seed: str) -> None:
        self._source = random.Random(seed)  # noqa: S311 - play data, no secrets

    def below(self, bound: int) -> int:
        """Draw a whole number from 0 to *bound* - 1."""
        return int(self._source.random() * bound)

    def between(self, low: int, high: int) -> int:
        """Draw a whole number from *low* to *high*, both included."""
        return low + self.below(high - low + 1)

    def chance(self, percent: int) -> bool:
        """Say yes *percent* times in a hundred."""
        return self.below(100) < percent

    def pick(self, options: Sequence[T]) -> T:
        """Draw one of *options*."""
        return options[self.below(len(options))]

    def shuffled(self, options: Sequence[T]) -> list[T]:
        """Return *options* in a drawn order."""
        rest = list(options)
        return [rest.pop(self.below(len(rest))) for _ in range(len(rest))]

    def some(self, options: Sequence[T], count: int) -> list[T]:
        """Draw *count* different ones of *options*, in their own order."""
        chosen = sorted(self.shuffled(range(len(options)))[:count])
        return [options[i] for i in chosen]
