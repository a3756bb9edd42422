from __future__ import annotations

import itertools
import math
from collections import Counter, defaultdict

import numpy as np
import pytest
from tests.unit.matching.worlds_small import a_line, a_piece, evidence

from stallkeep.domain.matching import Evidence, Habits
from stallkeep.domain.matching.amounts import mode_matrix
from stallkeep.domain.matching.habits import KINDS, Beliefs
from stallkeep.domain.matching.line_problem import EXTRA
from stallkeep.domain.matching.line_sums import scale_reduction
from stallkeep.domain.matching.modes import MODES
from stallkeep.domain.matching.piece_evidence import sold_odds
from stallkeep.domain.matching.posterior import line_posterior
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.sampler import Sampler

SMALL = [
    evidence(
        [a_piece("a", 2000), a_piece("b", 2000), a_piece("c", 3500), a_piece("d", 1500)],
        [a_line("s", 2000), a_line("t", 2000), a_line("u", 3500)],
    ),
    evidence(
        [
            a_piece("a", 4000, counted_home=0),
            a_piece("b", 4000, counted_home=1),
            a_piece("c", 4500),
        ],
        [a_line("s", 4000), a_line("t", 4000)],
    ),
    evidence(
        [a_piece("a", 1000, quantity=2), a_piece("b", 2000), a_piece("c", 2500, title="wool hat")],
        [a_line("s", 2000), a_line("t", 2000, note="wool"), a_line("u", 900)],
    ),
]


def by_brute_force(problem: Problem) -> list[dict[tuple[str, ...], float]]:
    """Sum over all joint explanations, straight from the definition of the model."""
    units = problem.units
    odds = sold_odds(units, {n: problem.beliefs.chance(n) for n in problem.beliefs.chances})
    kind, one, many = problem.shares
    subsets = [s for n in range(1, 5) for s in itertools.combinations(range(len(units)), n)]
    sums: list[dict[tuple[str, ...], float]] = [defaultdict(float) for _ in problem.lines]

    def own(i: int, chosen: tuple[int, ...]) -> float:
        line = problem.lines[i]
        single = len(chosen) == 1
        full = np.zeros(len(units))
        full[line.units] = line.single if single else line.bundle
        total = np.array([units.price[list(chosen)].sum()])
        likely = mode_matrix(total, line.paid, problem.step)[0] @ (one if single else many)
        gift = total[0] - units.price[list(chosen)].min() == line.paid and not single
        likely += gift * many[MODES.index("cheapest_free")]
        return float(likely * np.prod(full[list(chosen)] * odds[list(chosen)]))

    from_sets = {(i, s): own(i, s) for i in range(len(problem.lines)) for s in subsets}

    def walk(i: int, used: frozenset[int], weight: float, path: list[tuple[int, ...]]) -> None:
        if i == len(problem.lines):
            for place, chosen in enumerate(path):
                names = sorted(units.pieces[units.item[u]].item_id for u in chosen)
                sums[place][tuple(names)] += weight
            return
        line = problem.lines[i]
        untagged = float(line.extra[0] * kind[KINDS.index("untagged")] * line.sizes[0])
        walk(i + 1, used, weight * untagged, [*path, ()])
        left = len(units) - len(used)
        for chosen in subsets:
            if used & set(chosen) or from_sets[i, chosen] <= 0:
                continue
            size = len(chosen)
            prior = float(kind[size - 1] * line.sizes[size]) / math.comb(left, size)
            walk(i + 1, used | set(chosen), weight * prior * from_sets[i, chosen], [*path, chosen])

    walk(0, frozenset(), 1.0, [])
    return [{k: v / sum(line.values()) for k, v in line.items()} for line in sums]


@pytest.mark.parametrize("small", SMALL)
def test_sampled_probabilities_agree_with_full_enumeration(small: Evidence) -> None:
    problem = Problem(small, list(small.lines), Beliefs(Habits()), taken={}, boosts={})
    for line in problem.lines:
        line.extra[1:] = 0.0
    truth = by_brute_force(problem)
    sampler = Sampler(problem, chains=64, warm=20, sweeps=500, seed=7, learn=False)
    sampler.run()
    for place, exact in enumerate(truth):
        got = {o.item_ids: o.probability for o in line_posterior(sampler, place).options}
        for items, probability in exact.items():
            assert got.get(items, 0.0) == pytest.approx(probability, abs=0.02)


def test_scale_reduction_is_one_for_equal_chains_and_large_for_stuck_ones() -> None:
    rng = np.random.default_rng(3)
    assert scale_reduction(rng.random((200, 8))) == pytest.approx(1.0, abs=0.02)
    stuck = np.repeat(np.array([[0.1, 0.9]]), 50, axis=0) + rng.normal(0, 0.01, (50, 2))
    assert scale_reduction(stuck) > 5


def test_extra_explanations_keep_their_order() -> None:
    assert EXTRA[:2] == ("untagged", "double_charge")
    assert Counter(EXTRA)["two"] == 1
