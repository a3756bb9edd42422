"""Price points: the prices a shop likes to ask, as whole amounts, fives, or just below."""

from __future__ import annotations

from typing import Literal

import msgspec

from stallkeep.domain.errors import PriceRuleError


class PricePoints(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Every price that is a multiple of *step_minor*, less *below_minor*. Plain JSON.

    In euro: step 100 is whole amounts, step 500 fives, step 500 less 1 is 4.99, 9.99, 14.99.

    Attributes:
        step_minor: Distance between two points; 1 takes any price.
        below_minor: How far below the multiple a point lies; less than the step.
        towards: Where a price between two points goes; "nearest" goes up from the middle.

    Raises:
        PriceRuleError: The amounts make no points.
    """

    step_minor: int = 1
    below_minor: int = 0
    towards: Literal["nearest", "up", "down"] = "nearest"

    def __post_init__(self) -> None:
        if self.step_minor < 1 or not 0 <= self.below_minor < self.step_minor:
            raise PriceRuleError("price points need a step above what they lie below it")


def to_point(price_minor: int, points: PricePoints, floor_minor: int = 0) -> int:
    """Bring a price to a price point that is not under the floor.

    The floor itself need not be a point: the next one above it is taken. A price above 0 never
    becomes 0 or less, and 0 becomes the lowest point that is not below it.
    """
    shifted = price_minor + points.below_minor
    if points.towards == "up":
        count = -(-shifted // points.step_minor)
    elif points.towards == "down":
        count = shifted // points.step_minor
    else:
        count = (2 * shifted + points.step_minor) // (2 * points.step_minor)
    lowest = max(floor_minor, min(price_minor, 1))
    count = max(count, -(-(lowest + points.below_minor) // points.step_minor))
    return count * points.step_minor - points.below_minor
