"""Payments a fixed percentage above their tags: tips at the terminal, or tax nobody told of."""

from __future__ import annotations

from collections.abc import Mapping

from stallkeep.domain.matching.modes import ABOVE
from stallkeep.domain.matching.reconciliation import Finding

FEWEST = 3.0
LEAST_SHARE = 0.15  # of the payments: fewer are single customers' tips


def above_tags(learned: Mapping[str, float], lines: int) -> list[Finding]:
    """Tell of the percentage on top of the tags that the payments speak of.

    Args:
        learned: What the event taught, by name as in Habits.
        lines: Payments that were weighed.

    Returns:
        ``paid-above-tags``, or nothing.
    """
    numbers = {
        percent: sum(learned.get(f"{family}/above_{percent}", 0.0) for family in ("one", "many"))
        for percent in ABOVE
    }
    percent, number = max(numbers.items(), key=lambda found: (found[1], -found[0]))
    if number < max(FEWEST, LEAST_SHARE * lines):
        return []
    return [
        Finding(
            code="paid-above-tags",
            sentence=(
                f"About {number:.0f} of {lines} payments are {percent} % above the tags, and count "
                "as takings whole. If that is tax put on top, tell it in the shop's settings, from "
                "a day before the event on; a tip is known only where an export tells it."
            ),
        )
    ]
