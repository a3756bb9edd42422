"""The jointly best explanation as an integer programme, solved by HiGHS.

Every line takes exactly one of its options; every item is used at most its quantity; the sum of
log weights is largest. This is weighted set packing with an empty set for every line.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import msgspec
import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix

from stallkeep.domain.matching.exact import Items

OPTIMAL = 0
MOST_NODES = 2_000


class Optimum(msgspec.Struct):
    """The best joint explanation found.

    Attributes:
        choice: Per line, index of its option; -1 when no solution was found.
        value: Sum of natural logs of the chosen weights.
        proven: True when nothing better exists.
    """

    choice: list[int]
    value: float
    proven: bool


def best_jointly(
    options: Sequence[Sequence[tuple[Items, float]]],
    quantity: Counter[str],
    *,
    most_nodes: int = MOST_NODES,
) -> Optimum:
    """Find the jointly best options; the limit is on nodes, so every machine answers alike."""
    if not options:
        return Optimum([], 0.0, proven=True)
    columns = [(i, k) for i, line in enumerate(options) for k in range(len(line))]
    gain = np.array([_log(options[i][k][1]) for i, k in columns])
    once = csr_matrix(
        (np.ones(len(columns)), ([i for i, _ in columns], range(len(columns)))),
        shape=(len(options), len(columns)),
    )
    constraints = [LinearConstraint(once, 1, 1), *_at_most(options, columns, quantity)]
    result = milp(
        -gain,
        constraints=constraints,
        integrality=np.ones(len(columns), dtype=np.int64),
        bounds=Bounds(0, 1),
        options={"node_limit": most_nodes, "mip_rel_gap": 0.0},
    )
    if result.x is None:
        return Optimum([-1] * len(options), -math.inf, proven=False)
    choice = [-1] * len(options)
    for (i, k), taken in zip(columns, np.rint(result.x), strict=True):
        if taken:
            choice[i] = k
    value = sum(_log(options[i][k][1]) for i, k in enumerate(choice) if k >= 0)
    return Optimum(choice, value, proven=result.status == OPTIMAL)


def _at_most(
    options: Sequence[Sequence[tuple[Items, float]]],
    columns: Sequence[tuple[int, int]],
    quantity: Counter[str],
) -> list[LinearConstraint]:
    place: dict[str, int] = {}
    entries: Counter[tuple[int, int]] = Counter()
    for column, (i, k) in enumerate(columns):
        for item in options[i][k][0]:
            row = place.setdefault(item, len(place))
            entries[row, column] += 1
    if not place:
        return []
    rows, cols = zip(*entries, strict=True)
    matrix = csr_matrix((list(entries.values()), (rows, cols)), shape=(len(place), len(columns)))
    limit = np.array([quantity[item] for item in place])
    return [LinearConstraint(matrix, -np.inf, limit)]


def _log(weight: float) -> float:
    return math.log(max(weight, 1e-300))
