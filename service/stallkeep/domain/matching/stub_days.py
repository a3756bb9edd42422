"""Days with stubs in order: habits and orders drawn in turn, posteriors averaged over the draws.

Given the seller's habits, the stubs of a day are a chain that is summed exactly; given how the
stubs lie, habits have conjugate distributions. So both are drawn in turn (Gibbs), and what is
handed back is the mean of the exact posteriors: being unsure about the habits is part of it.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence

import msgspec
import numpy as np

from stallkeep.domain.matching.evidence import Stub
from stallkeep.domain.matching.habits import Beliefs
from stallkeep.domain.matching.modes import Floats
from stallkeep.domain.matching.piece_evidence import sold_odds
from stallkeep.domain.matching.posterior import LinePosterior
from stallkeep.domain.matching.problem import Problem, SetLikelihood
from stallkeep.domain.matching.stub_draws import Uses, chances_drawn, habits_drawn, uses_of
from stallkeep.domain.matching.stub_order import Chain, days_in_order
from stallkeep.domain.matching.stub_posterior import StubSums

REVERSED, DROPPED = 0.1, 0.1  # how often orders given are the reverse, or none
SHUFFLES = 3
WARM, KEPT = 6, 30
WORK = 60  # lines for which as many draws are made
LEFT_OVER = 0.2  # how often no line of its own day takes a stub, before that day was looked at


class SolvedDays(msgspec.Struct, frozen=True):
    """What the order of stubs settled.

    Attributes:
        posteriors: One per line of those days.
        gains: Expected counts the days have taught, by name as in Habits.
    """

    posteriors: list[LinePosterior]
    gains: dict[str, float]

    @property
    def lines(self) -> frozenset[str]:
        """Transaction ids of the lines answered."""
        return frozenset(p.problem.line.transaction_id for p in self.posteriors)


def solve_days(
    problem: Problem,
    seed: int,
    likelihood: SetLikelihood | None = None,
    *,
    learn: bool = True,
) -> SolvedDays:
    """Answer the lines of days whose stubs have an order; others are not in the result.

    Args:
        problem: The event; left with the habits learned.
        seed: For the draws.
        likelihood: Of a set's tag prices and an amount, in place of the modes.
        learn: Draw habits; otherwise the expected ones stay.
    """
    chains = _chains(problem, likelihood)
    if not chains:
        return SolvedDays([], {})
    return _Days(problem, chains, np.random.default_rng(seed), learn=learn).solve()


class _Days:
    """The draws of all days together."""

    def __init__(
        self,
        problem: Problem,
        chains: Mapping[dt.date, Chain],
        rng: np.random.Generator,
        *,
        learn: bool,
    ) -> None:
        self.problem, self.chains, self.rng, self.learn = problem, chains, rng, learn
        self.chance = _expected(problem.beliefs)
        self.lost_before = max(self.chance["stub_lost"], 1e-12)  # which the lines' odds hold
        self.left_over: dict[str, float] = {}
        self.sums = {day: [StubSums(line) for line in own.lines] for day, own in chains.items()}
        self.uses: list[Uses] = []
        self.shares: list[tuple[Floats, Floats, Floats]] = []
        self.odds = np.zeros(len(problem.units))
        self.own_odds = {day: np.zeros(len(problem.units)) for day in chains}

    def solve(self) -> SolvedDays:
        """Draw, gather, and give one posterior per line."""
        scale = min(1.0, max(0.25, WORK / sum(map(len, self.sums.values()))))
        warm, kept = (max(2, round(n * scale)) for n in (WARM, KEPT))
        if not self.learn:
            warm, kept = 1, 1
        for sweep in range(warm + kept):
            self._sweep(kept=sweep >= warm)
        self._believe()
        posteriors = [
            sums.posterior(chain, self.own_odds[day] / kept, kept)
            for day, chain in self.chains.items()
            for sums in self.sums[day]
        ]
        return SolvedDays(posteriors, Uses.mean(self.uses) if self.learn else {})

    def _sweep(self, *, kept: bool) -> None:
        odds = sold_odds(self.problem.units, self.chance)
        drawn: list[Uses] = []
        for day, chain in self.chains.items():
            own = odds * left_by_others(self.problem, day, self.left_over)
            own[self.problem.unstubbed] *= self.chance["stub_lost"] / self.lost_before
            chain.weigh(own, self.chance["stub_swapped"])
            self._gather(day, chain, kept=kept)
            self.own_odds[day] += own * kept
            if self.learn:
                drawn.append(uses_of(chain, own, self.rng))
            chain.forget()
        if kept:
            self.odds += odds
            self.shares.append(self.problem.shares)
        if self.learn:
            uses = Uses.sum(drawn)
            if kept:
                self.uses.append(uses)
            self.problem.shares = habits_drawn(self.problem.beliefs, uses, self.rng)
            self.chance |= chances_drawn(self.problem, uses, self.rng)

    def _gather(self, day: dt.date, chain: Chain, *, kept: bool) -> None:
        taken = np.zeros(chain.moves.fits.shape)
        for i, shares in chain.shares():
            taken += shares.moves
            if kept:
                self.sums[day][i].add(shares)
        self.left_over |= _left_over(chain, taken)

    def _believe(self) -> None:
        self.odds /= len(self.shares)
        kind, one, many = (np.mean(own, axis=0) for own in zip(*self.shares, strict=True))
        self.problem.believe(kind, one, many, self.odds)


def _chains(problem: Problem, likelihood: SetLikelihood | None) -> dict[dt.date, Chain]:
    """The days whose stubs have kept an order."""
    return {
        day: chain
        for day, (indices, stubs) in days_in_order(problem).items()
        if (chain := _in_order(problem, indices, stubs, likelihood)) is not None
    }


def _in_order(
    problem: Problem, indices: Sequence[int], stubs: list[Stub], likelihood: SetLikelihood | None
) -> Chain | None:
    """The stubs in the order they were kept in: as given, the other way round, or none at all.

    A pile of stubs may be read from the top, and may have been dropped: the order given is held
    against the reverse and against some that are drawn at random.
    """
    chance = _expected(problem.beliefs)
    odds = sold_odds(problem.units, chance) * left_by_others(problem, stubs[0].day, {})
    lines = [problem.lines[i] for i in indices]

    def weighed(order: list[Stub]) -> tuple[float, Chain]:
        chain = Chain(problem, lines, order, likelihood)
        chain.weigh(odds, chance["stub_swapped"])
        chain.forget()
        return chain.evidence, chain

    rng = np.random.default_rng(len(stubs))
    given, chain = weighed(stubs)
    turned, other = weighed(stubs[::-1])
    turned += math.log(REVERSED)
    drawn = [weighed([stubs[k] for k in rng.permutation(len(stubs))])[0] for _ in range(SHUFFLES)]
    if max(given, turned) < max(drawn) + math.log(DROPPED / SHUFFLES):
        return None
    return chain if given >= turned else other


def left_by_others(problem: Problem, day: dt.date, left_over: Mapping[str, float]) -> Floats:
    """Per unit, how likely its stub's own days leave it to a line of *day*; 1 without such days.

    Args:
        problem: The event.
        day: A day with stubs.
        left_over: By item id, probability that no line of its stub's day takes it, where known.
    """
    units = problem.units
    left = np.ones(len(units))
    for u in np.nonzero(units.stub == 1)[0]:
        item = int(units.item[u])
        if day not in problem.stub_days.get(item, (day,)):
            left[u] = left_over.get(units.pieces[item].item_id, LEFT_OVER)
    return left


def _left_over(chain: Chain, whole: Floats) -> dict[str, float]:
    """Per piece with a stub of the day, the probability that no line of the day took it.

    Args:
        chain: The day.
        whole: Per move and place, the shares of all lines.
    """
    index = chain.moves.index
    taken = np.bincount(index.ravel(), np.repeat(whole, index.shape[2]), chain.moves.number + 1)
    pieces = chain.problem.units.pieces
    return {
        pieces[item].item_id: max(1.0 - float(share), 0.0)
        for item, share in zip(chain.items, taken, strict=False)
    }


def _expected(beliefs: Beliefs) -> dict[str, float]:
    return {name: beliefs.chance(name) for name in beliefs.chances}
