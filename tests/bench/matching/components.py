"""How far the lines of an event hang together: ``python -m tests.bench.matching.components``.

Arguments: ``[worlds] [first seed]``. Two lines hang together where a piece is worth considering for
both. Prints, per profile, the share of lines in the largest such group, and the number of groups.
"""

from __future__ import annotations

import sys

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from tests.bench.matching.worlds import PROFILES, a_world

from stallkeep.domain.matching import Budget, Evidence, event
from stallkeep.domain.matching.habits import Beliefs
from stallkeep.domain.matching.posterior import LinePosterior
from stallkeep.domain.matching.problem import Problem

WORTH = 1e-3


def main(worlds: int, first: int) -> None:
    """Print a row per profile."""
    sys.stdout.write("| profile | lines in the largest group | groups |\n|---|---|---|\n")
    for name in ("easy", "typical", "typical_count", "typical_stubs"):
        sizes = [groups(a_world(PROFILES[name], s).evidence) for s in range(first, first + worlds)]
        lines = sum(int(own.sum()) for own in sizes)
        largest = sum(int(own.max()) for own in sizes)
        number = sum(len(own) for own in sizes) / worlds
        sys.stdout.write(f"| {name} | {largest / lines:.2f} | {number:.0f} |\n")


def groups(evidence: Evidence) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Number of lines in each group."""
    beliefs = Beliefs(evidence.habits)
    problem = Problem(evidence, list(evidence.lines), beliefs, taken={}, boosts={})
    found = event._weighed(problem, evidence, Budget())[1]
    place = {piece.item_id: k for k, piece in enumerate(evidence.pieces)}
    pairs = [(i, place[item]) for i, own in enumerate(found) for item in considered(own)]
    line, piece = np.array(pairs).T
    lines, whole = len(found), len(found) + len(place)
    graph = coo_array((np.ones(len(pairs)), (line, piece + lines)), shape=(whole, whole))
    _, label = connected_components(graph, directed=False)
    return np.unique(label[:lines], return_counts=True)[1]


def considered(line: LinePosterior) -> set[str]:
    """Pieces of the explanations that are worth considering."""
    return {i for option in line.options if option.probability > WORTH for i in option.item_ids}


if __name__ == "__main__":
    given = [int(x) for x in sys.argv[1:3]]
    main(*(given + [10, 9000][len(given) :]))
