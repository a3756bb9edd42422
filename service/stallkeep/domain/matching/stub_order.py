"""Stubs in order beside payments in order: a hidden Markov chain over one day.

Walking through the day's lines, each takes the next few stubs, or none. Stubs may be left over
(cash that left no line), lines may have no stub (it was lost, or nothing was tagged), and two
neighbouring stubs may have changed places: one skipped stub stays *pending* and may be taken by a
later line. Forward and backward sums give the probability of every set of stubs for every line.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from stallkeep.domain.matching.evidence import Stub
from stallkeep.domain.matching.habits import KINDS
from stallkeep.domain.matching.line_problem import EXTRA, LineProblem
from stallkeep.domain.matching.modes import Floats
from stallkeep.domain.matching.piece_evidence import tag_price
from stallkeep.domain.matching.problem import Problem, SetLikelihood
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE
from stallkeep.domain.matching.stub_line import Amount, StubLine
from stallkeep.domain.matching.stub_moves import FURTHEST, Moves, read_before
from stallkeep.domain.tag_codes import normalise

OUTSIDE = -1


class Outside(NamedTuple):
    """Weights of everything that needs no stub: what has no tag, a second charge, loose pieces."""

    untagged: float
    double_charge: float
    loose: Floats

    @property
    def whole(self) -> float:
        return self.untagged + self.double_charge + float(self.loose.sum()) + 1e-15


class Shares(NamedTuple):
    """Probabilities for one line.

    Attributes:
        moves: Per move and place, with stubs alone or with one piece beside them.
        mixed: Per plain move and place, the part of it with a piece whose stub was lost.
        outside: That no stub belongs to it.
    """

    moves: Floats
    mixed: Floats
    outside: float


class Chain:
    """Stubs of one day in order, and the lines of that day.

    Attributes:
        items: Per stub, its piece on the rail.
        moves: What a line may take.
        totals: Per move and place, the sum of the tags taken.
        sums, totals_at: The different totals, and where each stands; beyond the last for none.
        few, few_at: The different totals of plain moves, and where each of these stands.
        with_one, with_one_at: The different totals of these with one piece more, and where they
            stand, few x prices.
        alike: Odds of stubs that lines share.
        without: Units that have no stub of the day.
        lines: The day's lines, in order.
        weights: Per line, the weight of every move at every place.
        mixed: Per line, the part of plain moves that takes a piece without a stub along.
        outside: Per line, the weight of what needs no stub.
        evidence: Natural logarithm of the weight of all ways to lay the stubs beside the lines.
    """

    def __init__(
        self,
        problem: Problem,
        lines: list[LineProblem],
        stubs: list[Stub],
        likelihood: SetLikelihood | None = None,
    ) -> None:
        """Prepare what does not depend on habits; weigh() does the rest.

        Args:
            problem: The event.
            lines: The day's lines, in order.
            stubs: The day's stubs, in order, of known pieces, each once.
            likelihood: Of a set's tag prices and an amount, in place of the modes.
        """
        self.problem = problem
        self.likelihood = likelihood
        self.items = [problem.vocabulary.codes[normalise(s.code)] for s in stubs]
        first = {int(i): u for u, i in reversed(list(enumerate(problem.units.item)))}
        self.unit = np.array([first[i] for i in self.items], dtype=np.int64)
        self.moves = Moves(len(stubs))
        self.without = problem.free.copy()
        self.without[self.unit] = False
        self.without[problem.units.price == 0] = False
        price = np.append(problem.units.price[self.unit], 0)
        self.totals = price[self.moves.index].sum(axis=2)
        self.sums = np.unique(self.totals[self.moves.fits])
        at = np.searchsorted(self.sums, self.totals)
        self.totals_at = np.where(self.moves.fits, at, len(self.sums)).astype(np.int32)
        few, few_at = np.unique(self.totals[self.moves.plain], return_inverse=True)
        self.few, self.few_at = few, few_at.reshape(len(self.moves.plain), -1)
        beside = few[:, None] + problem.prices
        with_one, at = np.unique(beside, return_inverse=True)
        self.with_one, self.with_one_at = with_one, at.reshape(beside.shape)
        self.alike: dict[bytes, tuple[Floats, Floats]] = {}
        self._amounts: dict[int, Amount] = {}
        written = np.array([-1 if s.price_minor is None else s.price_minor for s in stubs] + [-1])
        self.lines = [StubLine(self, line, written) for line in lines]
        self._forward: list[Floats] = []
        self.evidence = 0.0
        self.weights: list[Floats] = []
        self.mixed: list[Floats] = []
        self.outside: list[Outside] = []

    def weigh(self, odds: Floats, swapped: float) -> None:
        """Weigh all moves of all lines by the problem's shares of habits.

        Args:
            odds: Per unit, likelihood ratio of being sold by a line.
            swapped: Chance that two neighbouring stubs changed places.
        """
        moves, problem = self.moves, self.problem
        # a stub that no line paid for could stand anywhere among the others
        stubs = np.append(odds[self.unit] * max(moves.number, 1), 1.0)
        base = np.where(moves.fits, np.prod(stubs[moves.index], axis=2), 0.0)
        base *= np.where(moves.hole > 0, swapped, 1.0)[:, None]
        prior = np.array([problem.set_prior(n) for n in range(1, LARGEST_BUNDLE + 1)])
        with_one = base[moves.plain] * prior[moves.size[moves.plain]][:, None]
        base *= prior[moves.size - 1][:, None]
        self.weights, self.mixed, self.outside = [], [], []
        for line in self.lines:
            weights = line.own * base * line.likely(problem.shares)
            mixed = line.mixed(problem.shares, odds) * with_one
            weights[moves.plain] += mixed
            self.weights.append(weights)
            self.mixed.append(mixed)
            self.outside.append(self._outside(line.line, odds))
        self._look_forward()

    def amount(self, paid: int) -> Amount:
        """Likelihoods of an amount; lines of the same amount share them."""
        if paid not in self._amounts:
            self._amounts[paid] = Amount(self, paid)
        return self._amounts[paid]

    def shares(self) -> Iterator[tuple[int, Shares]]:
        """Forward and backward sums: a line's place in the day and its shares, last line first."""
        moves = self.moves
        behind = np.ones(moves.states)
        for i in range(len(self.lines) - 1, -1, -1):
            now, weights, none = self._forward[i], self.weights[i], self.outside[i].whole
            onward = weights * np.append(behind, 0.0).take(moves.target)
            both = self._sources(now).take(moves.source)
            both *= onward
            outside = none * float(now @ behind)
            total = outside + float(both.sum())
            part = self.mixed[i] / np.maximum(weights[moves.plain], 1e-300)
            mixed = both[moves.plain] * part / total
            both /= total
            yield i, Shares(both, mixed, outside / total)
            behind = _scaled(self._back(behind * none, onward))

    def forget(self) -> None:
        """Let go of what weigh() has found, but for the evidence: days can be large."""
        self.weights, self.mixed, self.outside, self._forward = [], [], [], []

    def draw(self, rng: np.random.Generator) -> list[int]:
        """Draw a way to lay the stubs: per line a move and place as a flat number, or OUTSIDE."""
        moves = self.moves
        state = _pick(self._forward[-1], rng)
        out = []
        for i in range(len(self.lines) - 1, -1, -1):
            now, into = self._forward[i], moves.into[state]
            sources = moves.source.ravel()[into]
            weights = self._sources(now)[sources] * self.weights[i].ravel()[into]
            none = now[state] * self.outside[i].whole
            drawn = _pick(np.append(weights, none), rng)
            if drawn == len(into):
                out.append(OUTSIDE)
                continue
            out.append(int(into[drawn]))
            source = int(sources[drawn])
            if source < moves.states:
                state = source
            else:
                state = _pick(now[: read_before(source - moves.states)], rng)
        return out[::-1]

    def mixed_share(self, i: int, move: int) -> float:
        """Probability that a move of line *i* takes a piece without a stub along."""
        k, place = divmod(move, self.moves.number + 1)
        found = np.nonzero(self.moves.plain == k)[0]
        if not len(found):
            return 0.0
        whole = float(self.weights[i][k, place])
        return float(self.mixed[i][found[0], place]) / max(whole, 1e-300)

    def _outside(self, line: LineProblem, odds: Floats) -> Outside:
        kind = self.problem.shares[0]
        return Outside(
            float(line.extra[0]) * float(kind[KINDS.index("untagged")]),
            float(line.extra[EXTRA.index("double_charge")])
            * float(kind[KINDS.index("double_charge")]),
            self.problem.listed_weights(line, odds * self.without, self.likelihood),
        )

    def _look_forward(self) -> None:
        """Weight of every state before each line and after the last, and of all ways together."""
        moves = self.moves
        now = np.zeros(moves.states)
        now[0] = 1.0
        self._forward, self.evidence = [now], 0.0
        for weights, none in zip(self.weights, self.outside, strict=True):
            gain = self._sources(now).take(moves.source) * weights
            found = np.bincount(moves.target.ravel(), gain.ravel(), moves.states + 1)
            step: Floats = found[: moves.states] + now * none.whole
            self.evidence += math.log(float(step.sum()))
            now = _scaled(step)
            self._forward.append(now)

    def _sources(self, now: Floats) -> Floats:
        """Weight of every state, then of being at or before every place."""
        by_place = now.reshape(-1, FURTHEST + 1).sum(axis=1)
        return np.concatenate([now, np.cumsum(by_place)])

    def _back(self, out: Floats, onward: Floats) -> Floats:
        moves = self.moves
        size = moves.states + moves.number + 1
        gain = np.bincount(moves.source.ravel(), onward.ravel(), size)
        ready = np.cumsum(gain[moves.states :][::-1])[::-1]
        return out + gain[: moves.states] + np.repeat(ready, FURTHEST + 1)


def _scaled(values: Floats) -> Floats:
    scaled: Floats = values / values.sum()
    return scaled


def _pick(weights: Floats, rng: np.random.Generator) -> int:
    running = np.cumsum(weights)
    found = np.searchsorted(running, rng.random() * running[-1], side="right")
    return int(min(found, len(weights) - 1))


def days_in_order(problem: Problem) -> dict[dt.date, tuple[list[int], list[Stub]]]:
    """Days whose stubs have an order and whose lines have times: line indices and stubs."""
    out: dict[dt.date, tuple[list[int], list[Stub]]] = {}
    for day in sorted({stub.day for stub in problem.evidence.stubs}):
        indices = [i for i, x in enumerate(problem.lines) if x.line.occurred_on == day]
        stubs = in_order(problem, day)
        timed = all(problem.lines[i].line.occurred_at is not None for i in indices)
        if stubs and indices and timed:
            out[day] = indices, stubs
    return out


def in_order(problem: Problem, day: dt.date) -> list[Stub]:
    """The day's stubs of known, priced pieces, each code once; empty without positions."""
    seen: set[str] = set()
    out = []
    stubs = [s for s in problem.evidence.stubs if s.day == day]
    if any(stub.position is None for stub in stubs):
        return []
    for stub in sorted(stubs, key=lambda s: (s.position or 0, s.code)):
        code = normalise(stub.code)
        place = problem.vocabulary.codes.get(code)
        if place is None or not tag_price(problem.units.pieces[place]):
            continue
        if code not in seen:
            seen.add(code)
            out.append(stub)
    return out
