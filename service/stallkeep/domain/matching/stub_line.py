"""One line beside the stubs of its day: what each move weighs, but for shares and odds."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from stallkeep.domain.matching.amounts import mode_matrix
from stallkeep.domain.matching.modes import Bools, Floats, Ints
from stallkeep.domain.matching.piece_evidence import AGREES, DIFFERS, TOTAL
from stallkeep.domain.matching.problem import LineProblem
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE

if TYPE_CHECKING:
    from stallkeep.domain.matching.stub_order import Chain

NEAR = 0.8, 2.5  # sums of tags beside one without a stub that are looked at, times the amount
ORDERS = np.array([math.factorial(n) for n in range(LARGEST_BUNDLE + 1)], dtype=np.float64)

Shares3 = tuple[Floats, Floats, Floats]  # kinds, modes of one piece, modes of several


class StubLine:
    """A line and the moves it may make; S moves, N + 1 places, P prices.

    Attributes:
        line: The line.
        own: S x N + 1: words, times, what is written on stubs, and their orders within a sale.
        sums: Tag totals, ascending.
        modes: Sums x used modes, likelihoods of the amount.
        used: The modes that give any sum a likelihood.
    """

    def __init__(self, chain: Chain, line: LineProblem, written: Ints) -> None:
        """Prepare; *written* are prices on the stubs, -1 for none, and a last -1."""
        problem, moves = chain.problem, chain.moves
        self.line = line
        self._chain = chain
        single, bundle = (_of_stubs(chain, line, own) for own in (line.single, line.bundle))
        priced = bool((written >= 0).any())
        self.own = (line.sizes[moves.size] / ORDERS[moves.size])[:, None]
        if priced or (single != 1).any() or (bundle != 1).any():
            both, kind = np.stack([single, bundle]), np.where(moves.size == 1, 0, 1)
            self.own = self.own * np.prod(both[kind[:, None, None], moves.index], axis=2)
        if priced:
            told = moves.index < moves.number
            self.own = self.own * _written_odds(written[moves.index], told, line.paid)
        size = moves.size[moves.plain]
        self._own_mixed = np.prod(bundle[moves.index[moves.plain]], axis=2)
        self._own_mixed *= (line.sizes[size + 1] / ORDERS[size])[:, None]
        self._loose = line.bundle * chain.without[line.units]
        self._fixed = _given(chain, line) if chain.likelihood else None
        beside = chain.few[:, None] + problem.prices
        self.sums = np.unique(chain.totals[moves.fits])
        if not chain.likelihood:
            low, high = (line.paid * bound for bound in NEAR)
            near = np.unique(beside)
            self.sums = np.union1d(self.sums, near[(near > low) & (near < high)])
        modes = mode_matrix(self.sums, line.paid, problem.step)
        self.used = np.nonzero(modes.any(axis=0))[0]
        self.modes = modes[:, self.used]
        self._at = _place(self.sums, chain.totals)
        self._beside = _place(self.sums, beside)

    def likely(self, shares: Shares3) -> Floats:
        """Likelihood of the amount, S x N + 1; 0 where a move does not fit."""
        if self._fixed is not None:
            return self._fixed
        out = np.empty(self._at.shape)
        split = int(np.searchsorted(self._chain.moves.size, 2))
        out[:split] = self._by_sum(shares[1]).take(self._at[:split])
        out[split:] = self._by_sum(shares[2]).take(self._at[split:])
        return out

    def mixed(self, shares: Shares3, odds: Floats) -> Floats:
        """Own weight and likelihood of the plain moves with one piece whose stub was lost."""
        if self._fixed is not None:
            return np.zeros(self._own_mixed.shape)
        by_total = self._by_sum(shares[2]).take(self._beside) @ self.loose(odds)
        weights: Floats = self._own_mixed * by_total.take(self._chain.few_at)
        return weights

    def beside(self, total: int, shares: Shares3, odds: Floats) -> Floats:
        """Per price, weight of a piece without a stub beside stubs of that total."""
        at = self._beside[np.searchsorted(self._chain.few, total)]
        weights: Floats = self._by_sum(shares[2]).take(at) * self.loose(odds)
        return weights

    def _by_sum(self, mix: Floats) -> Floats:
        """Likelihood of the amount per sum, and a last 0 for what is no sum."""
        return np.append(self.modes @ mix[self.used], 0.0)

    def loose(self, odds: Floats) -> Floats:
        """Per price, summed odds of the pieces without a stub of that day."""
        problem, units = self._chain.problem, self.line.units
        weights = self._loose * odds[units]
        return np.bincount(problem.bucket[units], weights, len(problem.prices)).astype(np.float64)

    def mode_shares(self, total: int, mix: Floats) -> Floats:
        """Weight of every used mode for a tag total."""
        weights: Floats = self.modes[np.searchsorted(self.sums, total)] * mix[self.used]
        return weights


def _of_stubs(chain: Chain, line: LineProblem, own: Floats) -> Floats:
    """A line's odds of its units, per stub; 1 for units it does not know, and for no stub."""
    known = np.ones(len(chain.problem.units))
    known[line.units] = own
    return np.append(known[chain.unit], 1.0)


def _place(sums: Ints, totals: Ints) -> NDArray[np.int32]:
    """Where the totals stand among the sums; one beyond the last for those that do not."""
    place = np.minimum(np.searchsorted(sums, totals), len(sums) - 1)
    return np.where(sums[place] == totals, place, len(sums)).astype(np.int32)


def _given(chain: Chain, line: LineProblem) -> Floats:
    """Likelihoods by an outside model of tag prices and amount."""
    moves = chain.moves
    price = chain.problem.units.price[chain.unit]
    out = np.zeros(moves.fits.shape)
    for k, place in zip(*np.nonzero(moves.fits), strict=True):
        stubs = moves.index[k, place, : moves.size[k]]
        if chain.likelihood:
            out[k, place] = chain.likelihood(tuple(sorted(price[stubs].tolist())), line.paid)
    return out


def _written_odds(written: Ints, told: Bools, paid: int) -> Floats:
    """What prices written on stubs say: their sum is what was paid, or one holds the total."""
    known = written >= 0
    every, some = (known | ~told).all(axis=2), known.any(axis=2)
    sums = np.where(known, written, 0).sum(axis=2)
    total = (known & (written == paid)).any(axis=2)
    odds: Floats = np.select(
        [~some, every & (sums == paid), total, ~every & (sums < paid)],
        [1.0, AGREES, TOTAL, 1.0],
        DIFFERS,
    )
    return odds
