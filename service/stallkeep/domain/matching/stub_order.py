"""Stubs in order beside payments in order: a hidden Markov chain over one day.

Walking through the day's lines, each takes the next few stubs, or none. Stubs may be left over
(cash that left no line), lines may have no stub (it was lost, or nothing was tagged), and two
neighbouring stubs may have changed places: one skipped stub stays *pending* and may be taken by a
later line. Forward and backward sums give the probability of every set of stubs for every line.
"""

from __future__ import annotations

import datetime as dt
import itertools
import math
from collections.abc import Iterator

import msgspec
import numpy as np

from stallkeep.domain.matching.amounts import mode_matrix
from stallkeep.domain.matching.habits import KINDS
from stallkeep.domain.matching.modes import MODES, Floats, Ints
from stallkeep.domain.matching.piece_evidence import AGREES, DIFFERS, TOTAL, tag_price
from stallkeep.domain.matching.problem import EXTRA, LineProblem, Problem, SetLikelihood
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE
from stallkeep.domain.matching.types import Stub
from stallkeep.domain.tag_codes import normalise

LEAST_SHARE = 1e-5
FURTHEST = LARGEST_BUNDLE + 1


class Move(msgspec.Struct):
    """One way for a line to take stubs, for every place in the order at once.

    Attributes:
        pending: How far back the pending stub lies that it takes along; 0 for none.
        offsets: Stubs taken, counted from the next unread one (negative for the pending one).
        ahead: Unread stubs passed.
        hole: How far back a stub it skipped lies afterwards; 0 for none.
        weights: Weight at every place; 0 where it does not fit.
        totals: Sum of the tags at every place.
        mixed: True when one piece without a stub is in the set as well.
    """

    pending: int
    offsets: tuple[int, ...]
    ahead: int
    hole: int
    weights: Floats
    totals: Ints
    mixed: bool = False


class _Shapes:
    """All ways to take a number of stubs, at every place in the order at once.

    Attributes:
        offsets: K x size, stubs taken, counted from the next unread one.
        holes: K, how far back a stub skipped lies afterwards; 0 for none.
        index: K x places x size, stubs taken; within bounds even where it does not fit.
        fits: K x places.
        totals: K x places, sum of the tags.
    """

    def __init__(self, shapes: list[tuple[int, tuple[int, ...], int, int]], price: Ints) -> None:
        self.shapes = shapes
        self.offsets = tuple(shape[1] for shape in shapes)
        self.holes = np.array([shape[3] for shape in shapes])
        places = np.arange(len(price) + 1)
        index = places[None, :, None] + np.array(self.offsets)[:, None, :]
        ahead = np.array([shape[2] for shape in shapes])[:, None]
        self.fits = (index.min(axis=2) >= 0) & (places + ahead <= len(price))
        self.index = np.clip(index, 0, len(price) - 1)
        self.totals = price[self.index].sum(axis=2)

    def moves(self, weights: Floats) -> list[Move]:
        """One per shape that fits somewhere, with these weights."""
        return [
            Move(*shape, weights[k], self.totals[k])
            for k, shape in enumerate(self.shapes)
            if shape[2] < weights.shape[1]
        ]


class StubSets(msgspec.Struct):
    """What the order says about one line.

    Attributes:
        line: The line.
        sets: Sorted item ids to probability.
        outside: Probability that no stub belongs to it.
        single_gain, many_gain: Expected counts of modes.
        size_gain: Expected counts of kinds (sizes; untagged is in *outside*).
        taken: Expected number of stubs it takes.
        mixed: Probability that one of its pieces lost its stub.
        swapped: Probability that it takes stubs past one left pending.
    """

    line: LineProblem
    sets: dict[tuple[str, ...], float]
    outside: float
    single_gain: Floats
    many_gain: Floats
    size_gain: Floats
    taken: float = 0.0
    mixed: float = 0.0
    swapped: float = 0.0


class Chain:
    """Stubs of one day in order, and the lines of that day."""

    def __init__(
        self,
        problem: Problem,
        lines: list[LineProblem],
        stubs: list[Stub],
        odds: Floats,
        likelihood: SetLikelihood | None = None,
        *,
        swapped: float,
    ) -> None:
        """Prepare.

        Args:
            problem: The event.
            lines: The day's lines, in order.
            stubs: The day's stubs, in order, of known pieces, each once.
            odds: Per unit, likelihood ratio of being sold by a line.
            likelihood: Of a set's tag prices and an amount, in place of the modes.
            swapped: Chance that two neighbouring stubs changed places.
        """
        self.problem = problem
        self.swapped = swapped
        self.lines = lines
        self.odds = odds
        self.likelihood = likelihood
        self.items = [problem.vocabulary.codes[normalise(s.code)] for s in stubs]
        self.written = [stub.price_minor for stub in stubs]
        first = {int(i): u for u, i in reversed(list(enumerate(problem.units.item)))}
        self.unit = np.array([first[i] for i in self.items], dtype=np.int64)
        self.price = problem.units.price[self.unit]
        self.number = len(stubs)
        self.without = problem.free.copy()
        self.without[self.unit] = False
        self.without[problem.units.price == 0] = False
        self.priced = any(price is not None for price in self.written)
        self.shapes = {
            size: _Shapes(list(shapes), self.price)
            for size, shapes in itertools.groupby(
                sorted([*_plain_shapes(), *_pending_shapes()], key=lambda s: len(s[1])),
                key=lambda s: len(s[1]),
            )
        }
        self.sums = np.unique(np.concatenate([s.totals.ravel() for s in self.shapes.values()]))
        self.with_one = np.unique((self.sums[:, None] + problem.prices[None, :]).ravel())
        self.modes: dict[int, tuple[Ints, Floats]] = {}
        self.moves = [self._moves(line) for line in lines]
        self.outside = [self._outside(line) for line in lines]

    def solve(self) -> list[StubSets]:
        """Forward and backward sums; one result per line, in order."""
        forward, _ = self._forward()
        behind = np.ones(forward[0].shape)
        out = []
        for i in range(len(self.lines) - 1, -1, -1):
            out.append(self._taken(i, forward[i], behind))
            behind = _scaled(self._back(behind, self.moves[i], self.outside[i]))
        return out[::-1]

    def evidence(self) -> float:
        """Natural logarithm of the weight of all ways to lay the stubs beside the lines."""
        return self._forward()[1]

    def _forward(self) -> tuple[list[Floats], float]:
        forward = [np.zeros((self.number + 1, FURTHEST + 1))]
        forward[0][0, 0] = 1.0
        whole = 0.0
        for line_moves, none in zip(self.moves, self.outside, strict=True):
            step = self._ahead(forward[-1], line_moves, none)
            whole += math.log(float(step.sum()))
            forward.append(_scaled(step))
        return forward, whole

    def _moves(self, line: LineProblem) -> list[Move]:
        single, bundle = self._stub_odds(line)
        self._prepare_modes(line)
        moves = []
        for size, shapes in self.shapes.items():
            weights = np.prod((single if size == 1 else bundle)[shapes.index], axis=2)
            weights *= shapes.fits * np.where(shapes.holes > 0, self.swapped, 1.0)[:, None]
            weights *= self._likely(line, shapes.totals, size, shapes.offsets)
            weights *= self.problem.set_prior(size) * float(line.sizes[size])
            if self.priced:
                weights *= self._written(shapes.index, line.paid)
            moves += shapes.moves(weights)
        mixed = [self._mixed(line, move, bundle) for move in moves if _may_be_mixed(move)]
        return moves + mixed

    def _prepare_modes(self, line: LineProblem) -> None:
        if line.paid in self.modes or self.likelihood:
            return
        near = (self.with_one > 0.8 * line.paid) & (self.with_one < 2.5 * line.paid)
        kept = np.union1d(self.with_one[near], self.sums)
        self.modes[line.paid] = kept, mode_matrix(kept, line.paid, self.problem.step)

    def _likely(
        self,
        line: LineProblem,
        totals: Ints,
        size: int,
        offsets: tuple[tuple[int, ...], ...] | None,
    ) -> Floats:
        """Likelihood of the amount per tag total; offsets name the tags for an outside model."""
        if self.likelihood is not None:
            rows = [self._likely_by_tags(line, own) for own in offsets or ()]
            return np.array(rows) if rows else np.zeros(totals.shape)
        known, modes = self.modes[line.paid]
        mix = self.problem.shares[1] if size == 1 else self.problem.shares[2]
        place = np.minimum(np.searchsorted(known, totals), len(known) - 1)
        return np.where(known[place] == totals, (modes @ mix)[place], 0.0)

    def _likely_by_tags(self, line: LineProblem, offsets: tuple[int, ...]) -> Floats:
        out = np.zeros(self.number + 1)
        for place in range(self.number + 1):
            index = [place + o for o in offsets]
            if self.likelihood and min(index) >= 0 and max(index) < self.number:
                tags = tuple(sorted(int(self.price[k]) for k in index))
                out[place] = self.likelihood(tags, line.paid)
        return out

    def _mixed(self, line: LineProblem, move: Move, bundle: Floats) -> Move:
        """The same stubs and one piece whose stub was lost."""
        index = np.arange(self.number + 1)[:, None] + np.array(move.offsets)
        index = np.clip(index, 0, self.number - 1)
        size = len(move.offsets) + 1
        totals = move.totals[:, None] + self.problem.prices[None, :]
        likely = self._likely(line, totals, size, None) @ self._loose(line)
        fits = np.arange(self.number + 1) + move.ahead <= self.number
        weights = np.prod(bundle[index], axis=1) * fits * likely
        weights *= self.problem.set_prior(size) * float(line.sizes[size])
        return Move(0, move.offsets, move.ahead, 0, weights, move.totals, mixed=True)

    def _loose(self, line: LineProblem) -> Floats:
        """Per price, summed odds of the pieces without a stub of that day."""
        full = np.zeros(len(self.odds))
        full[line.units] = line.bundle
        full *= self.odds * self.without
        return self.problem.by_price(full)

    def _stub_odds(self, line: LineProblem) -> tuple[Floats, Floats]:
        out = []
        for own in (line.single, line.bundle):
            full = np.full(len(self.odds), np.nan)
            full[line.units] = own
            known = full[self.unit]
            # a stub that no line paid for could stand anywhere among the others
            anywhere = max(self.number, 1)
            out.append(np.where(np.isnan(known), 1.0, known) * self.odds[self.unit] * anywhere)
        return out[0], out[1]

    def _written(self, index: Ints, paid: int) -> Floats:
        """What prices written on stubs say: their sum is what was paid, or one holds the total."""
        known = np.array([price is not None for price in self.written])[index]
        prices = np.array([price or 0 for price in self.written])[index]
        every, some = known.all(axis=-1), known.any(axis=-1)
        sums = prices.sum(axis=-1)
        total = (known & (prices == paid)).any(axis=-1)
        odds: Floats = np.select(
            [~some, every & (sums == paid), total, ~every & (sums < paid)],
            [1.0, AGREES, TOTAL, 1.0],
            DIFFERS,
        )
        return odds

    def _outside(self, line: LineProblem) -> float:
        """Weight of everything that needs no stub."""
        total = float(line.extra[0]) * float(self.problem.shares[0][KINDS.index("untagged")])
        double = float(self.problem.shares[0][KINDS.index("double_charge")])
        total += float(line.extra[EXTRA.index("double_charge")]) * double
        loose = self.problem.listed_weights(line, self.odds * self.without, self.likelihood)
        return total + float(loose.sum()) + 1e-15

    def _ahead(self, now: Floats, moves: list[Move], outside: float) -> Floats:
        out = now * outside
        ready = np.cumsum(now.sum(axis=1))
        for move in moves:
            source = now[:, move.pending] if move.pending else ready
            gain = source * move.weights
            out[move.ahead :, move.hole] += gain[: self.number + 1 - move.ahead]
        return out

    def _back(self, behind: Floats, moves: list[Move], outside: float) -> Floats:
        out = behind * outside
        ready = np.zeros(self.number + 1)
        for move in moves:
            end = self.number + 1 - move.ahead
            gain = np.zeros(self.number + 1)
            gain[:end] = move.weights[:end] * behind[move.ahead :, move.hole]
            if move.pending:
                out[:, move.pending] += gain
            else:
                ready += gain
        return out + np.cumsum(ready[::-1])[::-1][:, None]

    def _taken(self, i: int, now: Floats, behind: Floats) -> StubSets:
        line = self.lines[i]
        ready = np.cumsum(now.sum(axis=1))
        none = self.outside[i] * float((now * behind).sum())
        found: list[tuple[Move, Floats]] = []
        for move in self.moves[i]:
            end = self.number + 1 - move.ahead
            source = now[:end, move.pending] if move.pending else ready[:end]
            found.append((move, source * move.weights[:end] * behind[move.ahead :, move.hole]))
        total = none + sum(float(both.sum()) for _, both in found)
        result = StubSets(
            line, {}, none / total, np.zeros(len(MODES)), np.zeros(len(MODES)),
            np.zeros(len(KINDS)),
        )  # fmt: skip
        for move, both in found:
            self._add(result, move, both / total)
        return result

    def _add(self, result: StubSets, move: Move, share: Floats) -> None:
        size = len(move.offsets) + move.mixed
        whole = float(share.sum())
        result.size_gain[size - 1] += whole
        result.taken += whole * len(move.offsets)
        result.mixed += whole * move.mixed
        result.swapped += whole * (move.hole > 0)
        pieces = self.problem.units.pieces
        for place in np.nonzero(share > LEAST_SHARE)[0]:
            ids = [pieces[self.items[int(place) + o]].item_id for o in move.offsets]
            probability = float(share[place])
            if move.mixed:
                total = int(move.totals[place])
                for item, part in self._other_piece(result.line, total, size):
                    key = tuple(sorted([*ids, item]))
                    result.sets[key] = result.sets.get(key, 0.0) + probability * part
                continue
            key = tuple(sorted(ids))
            result.sets[key] = result.sets.get(key, 0.0) + probability
            self._learn(result, int(move.totals[place]), size, probability)

    def _learn(self, result: StubSets, total: int, size: int, probability: float) -> None:
        if self.likelihood is not None:
            return
        known, modes = self.modes[result.line.paid]
        mix = self.problem.shares[1] if size == 1 else self.problem.shares[2]
        share = modes[np.searchsorted(known, total)] * mix
        gain = result.single_gain if size == 1 else result.many_gain
        gain += probability * share / max(float(share.sum()), 1e-300)

    def _other_piece(self, line: LineProblem, total: int, size: int) -> list[tuple[str, float]]:
        full = np.zeros(len(self.odds))
        full[line.units] = line.bundle
        likely = self._likely(line, total + self.problem.prices, size, None)
        full *= self.odds * self.without * likely[self.problem.bucket]
        best = np.argsort(-full, kind="stable")[:20]
        whole = max(float(full.sum()), 1e-300)
        pieces, item = self.problem.units.pieces, self.problem.units.item
        return [(pieces[item[u]].item_id, float(full[u]) / whole) for u in best if full[u] > 0]


def _scaled(values: Floats) -> Floats:
    scaled: Floats = values / values.sum()
    return scaled


def _plain_shapes() -> Iterator[tuple[int, tuple[int, ...], int, int]]:
    """The next n stubs; or n of the next n + 1 with one left pending."""
    for n in range(1, LARGEST_BUNDLE + 1):
        yield 0, tuple(range(n)), n, 0
        for hole in range(n):
            offsets = tuple(o for o in range(n + 1) if o != hole)
            yield 0, offsets, n + 1, n + 1 - hole


def _pending_shapes() -> Iterator[tuple[int, tuple[int, ...], int, int]]:
    """The pending stub, alone or with the next ones."""
    for back in range(2, FURTHEST + 1):
        for n in range(LARGEST_BUNDLE):
            yield back, (-back, *range(n)), n, 0


def _may_be_mixed(move: Move) -> bool:
    return not move.hole and not move.pending and len(move.offsets) < LARGEST_BUNDLE


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
