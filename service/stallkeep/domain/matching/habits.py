"""The parameters of a market day: their names, what is believed before any evidence, learning.

Three families of shares are learned, each a Dirichlet distribution whose prior counts stand here:

* ``kind``: what a payment is for (one to four pieces, something untagged, a double charge);
* ``one``: how the amount of a single piece comes about, given its tag price;
* ``many``: the same for a bundle, given the sum of its tag prices.

The priors are common practice at stalls, no source: about two thirds pay the tag price, discounts
go to round figures, a bundle more often has a deal than not. They weigh as much as a handful of
sales, so a shop's own evening outvotes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from stallkeep.domain.matching.evidence import Habits
from stallkeep.domain.matching.modes import ABOVE, MODES, OFFS, PERCENTS, Floats
from stallkeep.domain.matching.ways import Ways, ways_of

KINDS = ("one", "two", "three", "four", "untagged", "double_charge")
KIND_PRIOR = (14.0, 2.0, 0.5, 0.15, 0.6, 0.05)

_ONE: dict[str, float] = {
    "exact": 6.0,
    "down_1_next": 0.15,
    "down_2_next": 0.05,
    "down_5_next": 0.8,
    "down_10_next": 0.4,
    "down_20_next": 0.05,
    "down_1_second": 0.05,
    "down_2_second": 0.03,
    "down_5_second": 0.25,
    "down_10_second": 0.1,
    "down_20_second": 0.02,
    "down_1_deep": 0.15,
    "down_5_deep": 0.3,
    "down_10_deep": 0.1,
    "round_up": 0.05,
    "tip": 0.1,
    "cheapest_free": 0.0,
    "mis_keyed": 0.07,
    "other": 0.1,
    **{f"percent_{p}": 0.05 for p in PERCENTS},
    "percent_10": 0.25,
    "percent_20": 0.1,
    **{f"off_{off}": 0.06 for off in OFFS},
    "off_5": 0.12,
    **{f"above_{percent}": 0.01 for percent in ABOVE},
}
_MANY: dict[str, float] = {
    "exact": 2.5,
    "down_1_next": 0.1,
    "down_2_next": 0.05,
    "down_5_next": 0.7,
    "down_10_next": 0.6,
    "down_20_next": 0.1,
    "down_1_second": 0.05,
    "down_2_second": 0.03,
    "down_5_second": 0.35,
    "down_10_second": 0.25,
    "down_20_second": 0.05,
    "down_1_deep": 0.1,
    "down_5_deep": 0.3,
    "down_10_deep": 0.15,
    "round_up": 0.03,
    "tip": 0.05,
    "cheapest_free": 0.05,
    "mis_keyed": 0.05,
    "other": 0.1,
    **{f"percent_{p}": 0.08 for p in PERCENTS},
    "percent_10": 0.5,
    "percent_20": 0.3,
    **{f"off_{off}": 0.06 for off in OFFS},
    "off_5": 0.15,
    **{f"above_{percent}": 0.01 for percent in ABOVE},
}
CHANCES: dict[str, tuple[float, float]] = {
    "counted_though_sold": (0.6, 40.0),
    "missed_though_home": (0.8, 40.0),
    "stub_lost": (1.0, 25.0),
    "stub_swapped": (0.2, 14.8),
    "gone_without_line": (1.0, 12.0),
    "code_is_wrong": (0.3, 29.7),
}


FAMILIES = (KINDS, MODES, MODES)
PRIOR_SCALE = 0.5  # the counts above weigh as much as four or five sales


class Beliefs:
    """Prior counts plus what the shop has taught so far.

    Attributes:
        habits: What was learned.
        kind, one, many: Dirichlet counts in the order of KINDS and MODES, for a seller of no
            kind in particular.
        one_ways, many_ways: The kinds of sellers this one may be of.
        chances: Beta counts (happened, did not) per name of CHANCES.
    """

    def __init__(self, habits: Habits) -> None:
        self.habits = habits
        learned = habits.learned
        kind, one, many = gained_counts(learned)
        self.kind = np.array(KIND_PRIOR) + kind
        self.one, self.one_ways = _ways(_ONE, one)
        self.many, self.many_ways = _ways(_MANY, many)
        self.chances = {
            name: (
                yes + learned.get(f"chance/{name}/yes", 0.0),
                no + learned.get(f"chance/{name}/no", 0.0),
            )
            for name, (yes, no) in CHANCES.items()
        }

    def chance(self, name: str) -> float:
        """Expected probability of one of CHANCES."""
        yes, no = self.chances[name]
        return yes / (yes + no)

    def after(self, gains: Mapping[str, float]) -> Beliefs:
        """Beliefs once *gains* (by name, as in Habits) are known as well."""
        return Beliefs(taught(self.habits, gains, keep=1.0))


def _ways(prior: Mapping[str, float], learned: Floats) -> tuple[Floats, Ways]:
    anything = np.array([PRIOR_SCALE * prior[name] for name in MODES])
    return anything + learned, ways_of(anything, learned)


def named_gains(
    counts: tuple[Floats, Floats, Floats], chances: Mapping[str, tuple[float, float]]
) -> dict[str, float]:
    """Name expected counts as Habits keeps them.

    Args:
        counts: Of kinds, ways for one piece, ways for several.
        chances: (happened, did not) by name of CHANCES.
    """
    gains: dict[str, float] = {}
    for family, names, gained in zip(("kind", "one", "many"), FAMILIES, counts, strict=True):
        gains |= {f"{family}/{n}": float(g) for n, g in zip(names, gained, strict=True)}
    for name, (yes, no) in chances.items():
        gains |= {f"chance/{name}/yes": yes, f"chance/{name}/no": no}
    return gains


def gained_counts(gains: Mapping[str, float]) -> tuple[Floats, Floats, Floats]:
    """Take kinds, ways for one piece and ways for several out of named gains."""
    kind, one, many = (
        np.array([gains.get(f"{family}/{name}", 0.0) for name in names])
        for family, names in zip(("kind", "one", "many"), FAMILIES, strict=True)
    )
    return kind, one, many


KEPT = 0.9
"""Share of what earlier events taught that stands after the next one."""


def gains_of(before: Habits, after: Habits) -> dict[str, float]:
    """Take what one event alone has taught out of the habits after it; never below 0."""
    gains = {
        name: weight - KEPT * before.learned.get(name, 0.0)
        for name, weight in after.learned.items()
    }
    return {name: round(gain, 4) for name, gain in gains.items() if gain > 0}


def taught(before: Habits, gains: Mapping[str, float], keep: float = KEPT) -> Habits:
    """Add one event's expected counts to what was learned; older events fade by *keep*."""
    names = sorted(set(before.learned) | set(gains))
    learned = {
        name: round(keep * before.learned.get(name, 0.0) + gains.get(name, 0.0), 4)
        for name in names
    }
    return Habits(
        learned={name: value for name, value in learned.items() if value > 0},
        events=before.events + 1,
    )
