"""Stubs in order: sums over all ways to lay them, ways drawn, and what they must not use."""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter, defaultdict

import msgspec
import numpy as np
import pytest
from tests.unit.matching.worlds_small import DAY, a_line, a_piece, evidence

from stallkeep.domain.matching import Evidence, Habits, Stub, reconcile
from stallkeep.domain.matching.habits import Beliefs
from stallkeep.domain.matching.modes import Floats
from stallkeep.domain.matching.piece_evidence import Units, sold_odds
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.stub_order import OUTSIDE, Chain, in_order
from stallkeep.domain.tag_codes import new_code

_rng = random.Random(11)  # noqa: S311
CODES = [new_code(_rng) for _ in range(60)]
MORNING = dt.datetime(2031, 5, 10, 9, tzinfo=dt.UTC)
LATER = DAY + dt.timedelta(days=1)


def a_small_day() -> Evidence:
    """Four payments, five stubs, three pieces without one; little is plain."""
    prices = [2000, 2000, 1500, 3500, 1000, 2000, 1500, 4000]
    pieces = [a_piece(f"p{n}", p, tag_code=CODES[n]) for n, p in enumerate(prices)]
    paid = [2000, 3500, 1500, 4500]
    lines = [
        a_line(f"t{n}", amount, occurred_at=MORNING + dt.timedelta(hours=n))
        for n, amount in enumerate(paid)
    ]
    stubs = tuple(Stub(code=CODES[n], day=DAY, position=n) for n in range(5))
    return evidence(pieces, lines, stubs=stubs, days=(DAY,))


def a_chain(world: Evidence, swapped: float = 0.05) -> Chain:
    problem = Problem(world, list(world.lines), Beliefs(Habits()), taken={}, boosts={})
    chain = Chain(problem, problem.lines, in_order(problem, DAY))
    chance = {name: problem.beliefs.chance(name) for name in problem.beliefs.chances}
    chain.weigh(sold_odds(problem.units, chance), swapped)
    return chain


def every_way(chain: Chain) -> list[tuple[float, tuple[int, ...]]]:
    """List all ways to lay the stubs, one by one, by the meaning of a move alone.

    A way reads stubs from left to right. Before a move any may be left out; one that was passed
    over within a move may be taken by the next move that takes a pending one.
    """
    moves = chain.moves
    back = np.where(moves.source < moves.states, moves.source % 6, 0)[:, 0]
    found: list[tuple[float, tuple[int, ...]]] = []

    def go_on(line: int, read: int, hole: int, weight: float, chosen: tuple[int, ...]) -> None:
        if line == len(chain.lines):
            found.append((weight, chosen))
            return
        none = weight * chain.outside[line].whole
        go_on(line + 1, read, hole, none, (*chosen, OUTSIDE))
        for k in range(len(moves.size)):
            if back[k] and back[k] != hole:
                continue
            for place in [read] if back[k] else range(read, moves.number + 1):
                more = float(chain.weights[line][k, place])
                if more > 0:
                    taken = moves.index[k, place, : moves.size[k]]
                    after = max(place, int(taken.max()) + 1)
                    passed = int(moves.hole[k])
                    flat = k * (moves.number + 1) + place
                    go_on(line + 1, after, passed, weight * more, (*chosen, flat))

    go_on(0, 0, 0, 1.0, ())
    return found


def test_the_sums_are_those_over_every_way_to_lay_the_stubs() -> None:
    chain = a_chain(a_small_day())
    ways = every_way(chain)
    assert len(ways) > 300
    whole = sum(weight for weight, _ in ways)
    assert chain.evidence == pytest.approx(np.log(whole), rel=1e-9)
    for i, shares in chain.shares():
        by_move: dict[int, float] = defaultdict(float)
        for weight, chosen in ways:
            by_move[chosen[i]] += weight / whole
        assert shares.outside == pytest.approx(by_move.pop(OUTSIDE), rel=1e-9)
        listed: Floats = np.zeros(shares.moves.size)
        listed[list(by_move)] = list(by_move.values())
        assert shares.moves.ravel() == pytest.approx(listed, rel=1e-9, abs=1e-15)


def test_ways_are_drawn_as_often_as_the_sums_say() -> None:
    chain = a_chain(a_small_day())
    rng = np.random.default_rng(5)
    draws = [chain.draw(rng) for _ in range(4000)]
    for i, shares in chain.shares():
        often = Counter(draw[i] for draw in draws)
        assert often[OUTSIDE] / len(draws) == pytest.approx(shares.outside, abs=0.03)
        likely = np.argsort(-shares.moves.ravel())[:3]
        for move in likely:
            share = float(shares.moves.ravel()[move])
            assert often[int(move)] / len(draws) == pytest.approx(share, abs=0.03)


def two_days(sold_each_day: int) -> Evidence:
    """Pieces of one price sold at the tag, the stubs of both days kept in order."""
    pieces = [a_piece(f"p{n:02d}", 4000, tag_code=CODES[n]) for n in range(40)]
    lines, stubs = [], []
    for n in range(2 * sold_each_day):
        late, nth = divmod(n, sold_each_day)
        at = MORNING + dt.timedelta(days=late, minutes=20 * nth)
        lines.append(a_line(f"t{n:02d}", 4000, occurred_at=at, occurred_on=at.date()))
        stubs.append(Stub(code=CODES[n], day=at.date(), position=nth))
    return evidence(pieces, lines, stubs=tuple(stubs), days=(DAY, LATER))


def test_a_stub_that_its_own_day_needs_is_not_free_for_another() -> None:
    result = reconcile(two_days(12))
    best = {a.transaction_id: a.candidates[0] for a in result.answers}
    right = [best[f"t{n:02d}"].item_ids == (f"p{n:02d}",) for n in range(24)]
    assert all(right)
    assert min(candidate.probability for candidate in best.values()) > 0.8


def test_stubs_of_one_sale_lie_in_any_order() -> None:
    """A set of two is laid in two ways, so each weighs half of a set that has one."""
    chain = a_chain(a_small_day(), swapped=0.0)
    line, moves = chain.lines[1], chain.moves
    pair = int(np.nonzero((moves.size == 2) & (moves.hole == 0))[0][0])
    assert float(line.own[pair, 0]) == pytest.approx(0.5)
    assert float(line.own[moves.size == 1][0, 0]) == pytest.approx(1.0)


def test_a_stub_tells_the_day_only_of_what_was_sold() -> None:
    """What no line paid for may have its stub among those of either day."""
    world = two_days(3)
    one = Units(world)
    both = sold_odds(one, CHANCES)[one.stub == 1]
    single = Units(msgspec.structs.replace(world, stubs=world.stubs[:3], days=(DAY,)))
    alone = sold_odds(single, CHANCES)[single.stub == 1]
    assert both[0] == pytest.approx(2 * alone[0])


CHANCES = {
    "counted_though_sold": 0.02,
    "missed_though_home": 0.02,
    "stub_lost": 0.04,
    "gone_without_line": 0.1,
}
