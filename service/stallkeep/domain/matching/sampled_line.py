"""One line as the sampler sees it: everything about it that stays the same while chains run."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from stallkeep.domain.matching.line_problem import EXTRA, KIND_OF_EXTRA, LineProblem
from stallkeep.domain.matching.modes import Bools, Floats, Ints
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE


class Weighed(NamedTuple):
    """A line's explanations in every chain, given what the other lines hold.

    Attributes:
        weights: Per signature, then per EXTRA.
        single: Odds per unit of being the only piece; 0 where it is taken.
        bundle: Likewise of being one of several; the same array where words make no difference.
        alone: Sums of *single* per price.
    """

    weights: Floats
    single: Floats
    bundle: Floats
    alone: Floats


class SampledLine:
    """Arrays of a line, K being its listed signatures and P the prices of its own units.

    Attributes:
        problem: The line.
        units: Indices of its units, by price.
        price: Per unit, index of its price.
        bounds: Where the units of each price begin, and the end.
        singles: How many signatures are of one piece; they come first.
        sizes: First and one past the last signature of one piece, of two, of three, of four.
        alone: Index of the price, per signature of one piece.
        bundles: Per place 0 to 3 in a bundle, its first signature among the bundles, and from
            there the rows of a table of polynomials, see polynomial_row().
        most_alike: How many pieces of one price a listed set holds at most.
        number: Pieces per signature, then 0 per EXTRA.
        members: K + EXTRA x 4 prices, -1 for none.
        more: As many: how many later members have the same price.
        kinds: Kind per signature, then per EXTRA.
        used: Modes that give any signature a likelihood.
        modes: K x used likelihoods of the amount.
        fixed: K x 1 likelihoods in place of the modes, None to use these.
        extra: Weights of EXTRA x 1, apart from the shares of kinds.
        coded: Places among the units whose code the note names exactly, None without such.
        lost: Places among the units without a stub, on a day whose stubs were kept; else None.
        alike: Per item that words speak of and that has several units: their places, and the
            odds of the words, which the first free unit carries in bundles.
    """

    def __init__(self, line: LineProblem, problem: Problem, fixed: Floats | None) -> None:
        listed = line.listed
        self.problem = line
        self.units = line.units
        self.bounds = np.append(line.starts, len(line.units))
        self.price = np.repeat(np.arange(len(line.prices)), np.diff(self.bounds))
        starts = np.searchsorted(listed.sizes, np.arange(1, LARGEST_BUNDLE + 2)).tolist()
        self.singles = starts[1]
        self.sizes = list(itertools.pairwise(starts))
        own = np.where(listed.members >= 0, np.searchsorted(line.prices, listed.members), -1)
        none = np.full((len(EXTRA), LARGEST_BUNDLE), -1, dtype=np.int64)
        self.members = np.concatenate([own, none])
        self.more = _later_alike(self.members)
        self.alone = own[: self.singles, 0].copy()
        self.bundles = list(_polynomial_rows(listed.columns[self.singles :], len(line.prices)))
        self.most_alike = _most_alike(listed.columns)
        self.number = np.concatenate([listed.sizes, np.zeros(len(EXTRA), dtype=np.int64)])
        self.kinds = np.concatenate([listed.sizes - 1, KIND_OF_EXTRA])
        self.used = np.nonzero(listed.modes.any(axis=0))[0]
        self.modes = listed.modes[:, self.used]
        self.fixed = None if fixed is None else fixed[:, None]
        by_size = line.sizes[[0, 0, *range(2, LARGEST_BUNDLE + 1)]]
        self.extra = (line.extra * by_size)[:, None]
        item = problem.units.item[line.units]
        text = line.text
        self.coded = np.nonzero(np.isin(item, text.named))[0] if text and text.exact else None
        self.lost = None
        if line.line.occurred_on in problem.stubs_kept:
            self.lost = np.nonzero(problem.unstubbed[line.units])[0]
        self.alike = list(_alike(line, item))


def polynomial_row(price: Ints, times: Ints, prices: int) -> Ints:
    """Row of "*times* pieces of this price" in a table; row 0 is the constant 1."""
    return 1 + (times - 1) * prices + price


def _polynomial_rows(columns: Ints, prices: int) -> Iterator[tuple[int, Ints]]:
    """Rows per place in a bundle; the later places are only filled in larger bundles."""
    price, times = np.divmod(columns - 1, LARGEST_BUNDLE)
    rows = np.where(columns > 0, polynomial_row(price, times + 1, prices), 0)
    for place in range(LARGEST_BUNDLE):
        told = np.nonzero(rows[:, place])[0]
        if len(told):
            yield int(told[0]), rows[told[0] :, place].copy()


def _later_alike(members: Ints) -> Ints:
    more = np.zeros_like(members)
    for place in range(LARGEST_BUNDLE - 1):
        later = members[:, place + 1 :]
        more[:, place] = (later == members[:, place, None]).sum(axis=1)
    return more


def _most_alike(columns: Ints) -> int:
    return int(((columns[columns > 0] - 1) % LARGEST_BUNDLE).max(initial=0)) + 1


def _alike(line: LineProblem, item: Ints) -> Iterator[tuple[Ints, float]]:
    if line.text is None:
        return
    odds = line.text.codes * line.text.in_bundle
    for i in np.unique(item[odds[item] > 1.0]):
        places = np.nonzero(item == i)[0]
        if len(places) > 1:
            yield places, float(odds[i])


def speak_of_the_next(bundle: Floats, free: Bools, places: Ints, odds: float) -> None:
    """Where another line holds an item's first unit, let its next free one carry the words."""
    chains = np.nonzero(~free[places[0]] & free[places[1:]].any(axis=0))[0]
    nearest = places[1:][np.argmax(free[places[1:]][:, chains], axis=0)]
    bundle[nearest, chains] *= odds
