"""Bundles that are next to impossible leave the list, not the sum."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.matching.worlds_small import a_line, a_piece, evidence

from stallkeep.domain.matching import Habits
from stallkeep.domain.matching.first_look import first_look
from stallkeep.domain.matching.habits import Beliefs
from stallkeep.domain.matching.line_problem import KIND_OF_EXTRA
from stallkeep.domain.matching.modes import Floats
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.unlikely import NEXT_TO_NEVER, drop_unlikely


def test_what_is_dropped_stays_in_the_sum_of_its_size() -> None:
    pieces = [a_piece(f"p{i}", 700 + 100 * i) for i in range(40)]
    lines = [a_line("s", 3000), a_line("t", 4400, note="7 of them"), a_line("u", 1200)]
    problem = Problem(evidence(pieces, lines), list(lines), Beliefs(Habits()), taken={}, boosts={})
    odds = np.ones(40)
    look = first_look(problem, odds, 16, np.random.default_rng(5))
    kind, one, many = (x.mean(axis=1) for x in (look.kind, look.one, look.many))

    def by_size(i: int) -> Floats:
        """Weight of each number of pieces, listed or not."""
        line = problem.lines[i]
        likely = np.where(line.listed.sizes == 1, line.listed.modes @ one, line.listed.modes @ many)
        listed = problem.set_weights(line, odds) * likely * kind[line.listed.sizes - 1]
        out: Floats = np.bincount(line.listed.sizes, listed, minlength=5).astype(np.float64)
        out[2:] += (line.extra * kind[KIND_OF_EXTRA])[2:] * line.sizes[2:]
        return out

    before = [by_size(i) for i in range(3)]
    listed = [line.listed for line in problem.lines]
    drop_unlikely(problem, look, odds)
    left_over = [len(line.listed.sizes) for line in problem.lines]
    assert sum(left_over) < sum(len(x.sizes) for x in listed)
    for i, sums in enumerate(before):
        assert by_size(i) == pytest.approx(sums)
        assert (problem.lines[i].listed.sizes == 1).sum() == (listed[i].sizes == 1).sum()
        left = problem.lines[i].listed
        likely = problem.set_weights(problem.lines[i], odds) * (left.modes @ many)
        bundles = (likely * kind[left.sizes - 1])[left.sizes > 1]
        assert (bundles > NEXT_TO_NEVER * sums.sum()).all()
