"""How likely a piece sells at an event: a Beta-Binomial model of what the shop took before.

A piece belongs to four groups, each inside the one before: all pieces, its category, its price
band there, and how long it has been held. Each group's chance is drawn towards that of the group
around it, the more so the fewer pieces it rests on. How strongly is learned from how much the
shop's groups differ: a shop whose categories sell alike draws them closely together.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from math import exp, log

import msgspec
import numpy as np
from scipy.optimize import minimize_scalar
from scipy.stats import betabinom

PRIOR_CHANCE = 0.15
PRIOR_PIECES = 10.0
"""Before any history: about one piece in seven sells. Common practice, no source."""

USUAL_STRENGTH = 20.0
STRENGTH_SPREAD = 1.0
STRENGTHS = (2.0, 500.0)
HELD_EDGES = (60, 180, 365)

Key = tuple[object, ...]


class Kind(msgspec.Struct, frozen=True, kw_only=True):
    """What tells pieces apart: category, number of the price band, number of the age band."""

    category: str | None
    price_band: int
    held_band: int

    @property
    def groups(self) -> tuple[Key, ...]:
        """The groups a piece belongs to, the widest first."""
        return (
            (),
            (self.category,),
            (self.category, self.price_band),
            (self.category, self.price_band, self.held_band),
        )


class PastPieces(msgspec.Struct, frozen=True, kw_only=True):
    """Pieces of one kind taken to earlier events.

    Attributes:
        kind: What they were.
        taken: How many, each event counted.
        sold: How many of them sold; at most taken.
    """

    kind: Kind
    taken: int
    sold: int


class Tally(msgspec.Struct, frozen=True, kw_only=True):
    """Taken and sold of one group, and the chance reckoned for a piece of it."""

    taken: int
    sold: int
    chance: float


class SellChances(msgspec.Struct, frozen=True, kw_only=True):
    """The chances learned.

    Attributes:
        tallies: Per group with history.
        strengths: Per level below "all": for how many pieces the group around counts.
    """

    tallies: dict[Key, Tally]
    strengths: tuple[float, ...]

    def of(self, kind: Kind) -> float:
        """Tell the chance of a piece: of the narrowest of its groups that has history."""
        return self.narrowest(kind)[1].chance

    def narrowest(self, kind: Kind) -> tuple[int, Tally]:
        """Find the narrowest group with history: its level (0 is all pieces) and its tally."""
        for level in range(len(kind.groups) - 1, 0, -1):
            if tally := self.tallies.get(kind.groups[level]):
                return level, tally
        return 0, self.tallies[()]


def kind_of(
    category: str | None, price_minor: int, days_held: int, band_starts: Sequence[int]
) -> Kind:
    """Sort a piece into its groups; *band_starts* are the rising starts of the price bands."""
    return Kind(
        category=category,
        price_band=bisect_right(band_starts, price_minor),
        held_band=bisect_right(HELD_EDGES, days_held),
    )


def learn_chances(history: Iterable[PastPieces]) -> SellChances:
    """Learn the chances from what was taken and sold."""
    counts: dict[Key, list[int]] = {(): [0, 0]}
    for pieces in history:
        for group in pieces.kind.groups:
            count = counts.setdefault(group, [0, 0])
            count[0] += pieces.taken
            count[1] += pieces.sold
    taken, sold = counts[()]
    chance = (sold + PRIOR_CHANCE * PRIOR_PIECES) / (taken + PRIOR_PIECES)
    tallies: dict[Key, Tally] = {(): Tally(taken=taken, sold=sold, chance=chance)}
    strengths = []
    for level in (1, 2, 3):
        groups = {key: count for key, count in counts.items() if len(key) == level}
        around = [tallies[key[:-1]].chance for key in groups]
        strength = _strength(list(groups.values()), around)
        strengths.append(strength)
        for (key, (n, s)), parent in zip(groups.items(), around, strict=True):
            tallies[key] = Tally(taken=n, sold=s, chance=drawn(s, n, parent, strength))
    return SellChances(tallies=tallies, strengths=tuple(strengths))


def drawn(sold: int, taken: int, around: float, strength: float) -> float:
    """Draw a group's share towards the chance around it: the mean of the Beta posterior."""
    return (sold + strength * around) / (taken + strength)


def _strength(counts: Sequence[Sequence[int]], around: Sequence[float]) -> float:
    """The likeliest strength, with a weak prior around its usual value."""
    if not counts:
        return USUAL_STRENGTH
    taken, sold = np.array(counts).T
    chance = np.array(around)

    def badness(log_strength: float) -> float:
        strength = exp(log_strength)
        likely = betabinom.logpmf(sold, taken, strength * chance, strength * (1 - chance))
        prior = -0.5 * ((log_strength - log(USUAL_STRENGTH)) / STRENGTH_SPREAD) ** 2
        return -float(np.sum(likely) + prior)

    low, high = (log(strength) for strength in STRENGTHS)
    return exp(float(minimize_scalar(badness, bounds=(low, high), method="bounded").x))
