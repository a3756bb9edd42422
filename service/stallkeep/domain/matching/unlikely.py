"""What a first look finds next to impossible is not weighed one by one: it is kept as one sum."""

from __future__ import annotations

import numpy as np

from stallkeep.domain.matching.first_look import FirstLook
from stallkeep.domain.matching.line_problem import EXTRA, KIND_OF_EXTRA, LineProblem
from stallkeep.domain.matching.modes import Floats
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE

NEXT_TO_NEVER = 1e-5  # of a line's probability


def drop_unlikely(problem: Problem, look: FirstLook, odds: Floats) -> None:
    """Take bundles below NEXT_TO_NEVER off every line's list; what they weigh stays, by size.

    Single pieces stay whatever they weigh: when the likely ones are taken, they are what is left.

    Args:
        problem: Its lines are changed.
        look: Habits to weigh by, averaged over the chains.
        odds: Per unit, likelihood ratio of being sold by a line.
    """
    kind, one, many = (shares.mean(axis=1) for shares in (look.kind, look.one, look.many))
    for line in problem.lines:
        if len(line.listed.sizes):
            _drop(line, problem.set_weights(line, odds), kind, one, many)


def _drop(line: LineProblem, weights: Floats, kind: Floats, one: Floats, many: Floats) -> None:
    listed = line.listed
    single = listed.sizes == 1
    weights = weights * np.where(single, listed.modes @ one, listed.modes @ many)
    likely = weights * kind[listed.sizes - 1]
    whole = float(likely.sum() + (line.extra * kind[KIND_OF_EXTRA]).sum())
    kept = single | (likely > NEXT_TO_NEVER * whole)
    for size in range(2, LARGEST_BUNDLE + 1):
        dropped = float(weights[(listed.sizes == size) & ~kept].sum())
        if dropped > 0:
            line.extra[EXTRA.index(("two", "three", "four")[size - 2])] += (
                dropped / line.sizes[size]
            )
    line.listed = listed.only(kept)
