from __future__ import annotations

import itertools
import math
from collections import Counter

import numpy as np
import pytest

from stallkeep.domain.matching.exact import enumerate_jointly, states
from stallkeep.domain.matching.optimum import best_jointly
from stallkeep.domain.matching.signatures import Universe, subset_sum_counts

Matrix = list[list[float | None]]

# Totals: scipy's linear_sum_assignment docstring; a published 3x3 Hungarian example (Wikipedia);
# the sample matrix of OR-Tools' assignment_linear_sum_assignment; the munkres test suite.
PUBLISHED: list[tuple[Matrix, float]] = [
    ([[4, 1, 3], [2, 0, 5], [3, 2, 2]], 5),
    ([[8, 4, 7], [5, 2, 3], [9, 4, 8]], 15),
    ([[90, 76, 75, 70], [35, 85, 55, 65], [125, 95, 90, 105], [45, 110, 95, 115]], 265),
    ([[5, 9, 1], [10, 3, 2], [8, 7, 4]], 12),
    ([[5, 9, None], [10, None, 2], [8, None, 4]], 19),
    (
        [
            [12, 9, 27, 10, 23],
            [7, 13, 13, 30, 19],
            [25, 18, 26, 11, 26],
            [9, 28, 26, 23, 13],
            [16, 16, 24, 6, 9],
        ],
        51,
    ),
]


def one_to_one(costs: Matrix) -> list[list[tuple[tuple[str, ...], float]]]:
    return [
        [((str(j),), math.exp(-cost / 10)) for j, cost in enumerate(row) if cost is not None]
        for row in costs
    ]


@pytest.mark.parametrize(("costs", "total"), PUBLISHED)
def test_published_assignments_are_reached_and_proven(costs: Matrix, total: float) -> None:
    found = best_jointly(one_to_one(costs), Counter({str(j): 1 for j in range(len(costs))}))
    assert found.proven
    assert found.value * -10 == pytest.approx(total)


@pytest.mark.parametrize(("costs", "total"), PUBLISHED)
def test_enumeration_finds_the_same_optimum(costs: Matrix, total: float) -> None:
    options = one_to_one(costs)
    joint = enumerate_jointly(options, Counter({str(j): 1 for j in range(len(costs))}))
    value = sum(math.log(options[i][k][1]) for i, k in enumerate(joint.best))
    assert value * -10 == pytest.approx(total)


def test_exact_cover_is_the_only_packing_of_three() -> None:
    # Knuth, Dancing Links: the sets A..F over 1..7; {B, D, F}. From memory of the paper.
    sets = {"A": "147", "B": "14", "C": "457", "D": "356", "E": "2367", "F": "27"}
    options = [[((), 1.0), (tuple(members), 10.0)] for members in sets.values()]
    found = best_jointly(options, Counter("1234567"))
    chosen = {name for name, k in zip(sets, found.choice, strict=True) if k == 1}
    assert found.proven
    assert chosen == {"B", "D", "F"}


# Textbook identities of the permanent.
@pytest.mark.parametrize(
    ("matrix", "permanent"),
    [
        ([[1, 2], [3, 4]], 10),
        ([[1] * 4] * 4, 24),
        ([[4, 5, 6], [8, 10, 12], [12, 15, 18]], 4320),
        ([[0, 1, 1, 1], [1, 0, 1, 1], [1, 1, 0, 1], [1, 1, 1, 0]], 9),
    ],
)
def test_the_total_weight_is_the_permanent(matrix: list[list[float]], permanent: float) -> None:
    options = [[((str(j),), float(x)) for j, x in enumerate(row)] for row in matrix]
    joint = enumerate_jointly(options, Counter({str(j): 1 for j in range(len(matrix))}))
    assert joint.total == pytest.approx(permanent)
    for line, shares in zip(options, joint.marginals, strict=True):
        assert len(line) == len(shares)
        assert sum(shares) == pytest.approx(1)


def test_states_bound_the_enumeration() -> None:
    assert states([[1, 2], [1, 2, 3], []]) == 6


# Burkardt, Data for the Subset Sum Problem, P01 (three solutions read there, weights from memory).
P01 = [15, 22, 14, 26, 32, 9, 16, 8]


def test_all_bundles_of_a_sum_are_listed() -> None:
    universe = Universe(np.array(sorted(P01)), np.ones(8, dtype=np.int64))
    found = {
        tuple(sorted(int(universe.prices[b]) for b in row))
        for size in universe.members
        for row, total in zip(universe.members[size], universe.totals[size], strict=True)
        if total == 53
    }
    assert found == {(15, 16, 22), (8, 14, 15, 16), (8, 9, 14, 22)}


def test_counting_sums_agrees_with_listing_them() -> None:
    prices, counts = np.array(sorted(P01)), np.array([1, 2, 1, 3, 1, 1, 2, 1])
    counted = subset_sum_counts(prices, counts)
    units = np.repeat(prices, counts)
    for size in (2, 3, 4):
        sums = Counter(int(sum(c)) for c in itertools.combinations(units.tolist(), size))
        assert {s: int(n) for s, n in enumerate(counted[size]) if n} == dict(sums)
