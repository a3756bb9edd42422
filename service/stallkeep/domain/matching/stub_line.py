"""One line beside the stubs of its day: what each move weighs, but for shares and odds."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from stallkeep.domain.matching.amounts import mode_matrix
from stallkeep.domain.matching.line_problem import LineProblem
from stallkeep.domain.matching.modes import Bools, Floats, Ints
from stallkeep.domain.matching.piece_evidence import AGREES, DIFFERS, TOTAL
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE

if TYPE_CHECKING:
    from stallkeep.domain.matching.stub_order import Chain

NEAR = 0.8, 2.5  # sums of tags beside one without a stub that are looked at, times the amount
ORDERS = np.array([math.factorial(n) for n in range(LARGEST_BUNDLE + 1)], dtype=np.float64)

Shares3 = tuple[Floats, Floats, Floats]  # kinds, modes of one piece, modes of several


class Amount:
    """Likelihoods of one amount beside the stubs of a day.

    Attributes:
        modes: Tag totals x used modes.
        used: The modes that give any total a likelihood.
        beside: Totals with one piece more x used modes, for those near the amount.
        first: Where these begin among all such totals.
    """

    def __init__(self, chain: Chain, paid: int) -> None:
        step = chain.problem.step
        self._whole = len(chain.with_one)
        self.first = int(np.searchsorted(chain.with_one, NEAR[0] * paid))
        end = int(np.searchsorted(chain.with_one, NEAR[1] * paid))
        modes = mode_matrix(chain.sums, paid, step)
        beside = mode_matrix(chain.with_one[self.first : end], paid, step)
        self.used = np.nonzero(modes.any(axis=0) | beside.any(axis=0))[0]
        self.modes, self.beside = modes[:, self.used], beside[:, self.used]

    def by_total(self, mix: Floats) -> Floats:
        """Likelihood per total, and a last 0 for what is none."""
        return np.append(self.modes @ mix[self.used], 0.0)

    def by_total_with_one(self, mix: Floats) -> Floats:
        """Likelihood per total with one piece more; 0 for those far from the amount."""
        known = np.zeros(self._whole)
        known[self.first : self.first + len(self.beside)] = self.beside @ mix[self.used]
        return known


class StubLine:
    """A line and the moves it may make; S moves, N + 1 places, P prices.

    Attributes:
        line: The line.
        own: S x N + 1, or x 1 where no place differs: words, times, what is written on stubs,
            and their orders within a sale.
        amount: Likelihoods of what was paid.
    """

    def __init__(self, chain: Chain, line: LineProblem, written: Ints) -> None:
        """Prepare; *written* are prices on the stubs, -1 for none, and a last -1."""
        moves = chain.moves
        self.line = line
        self._chain = chain
        single, bundle = (_of_stubs(chain, line, own) for own in (line.single, line.bundle))
        self.own, self._own_mixed = _own(chain, line, single, bundle)
        if (written >= 0).any():
            told = moves.index < moves.number
            self.own = self.own * _written_odds(written[moves.index], told, line.paid)
        self._loose = line.bundle * chain.without[line.units]
        self._fixed = _given(chain, line) if chain.likelihood else None
        self.amount = chain.amount(line.paid)

    def likely(self, shares: Shares3) -> Floats:
        """Likelihood of the amount, S x N + 1; 0 where a move does not fit."""
        if self._fixed is not None:
            return self._fixed
        at = self._chain.totals_at
        out = np.empty(at.shape)
        split = int(np.searchsorted(self._chain.moves.size, 2))
        out[:split] = self.amount.by_total(shares[1]).take(at[:split])
        out[split:] = self.amount.by_total(shares[2]).take(at[split:])
        return out

    def mixed(self, shares: Shares3, odds: Floats) -> Floats:
        """Own weight and likelihood of the plain moves with one piece whose stub was lost."""
        chain = self._chain
        if self._fixed is not None:
            return np.zeros((len(chain.moves.plain), chain.moves.number + 1))
        known = self.amount.by_total_with_one(shares[2])
        by_total = known.take(chain.with_one_at) @ self.loose(odds)
        weights: Floats = self._own_mixed * by_total.take(chain.few_at)
        return weights

    def beside(self, total: int, shares: Shares3, odds: Floats) -> Floats:
        """Per price, weight of a piece without a stub beside stubs of that total."""
        chain = self._chain
        at = chain.with_one_at[np.searchsorted(chain.few, total)]
        weights: Floats = self.amount.by_total_with_one(shares[2]).take(at) * self.loose(odds)
        return weights

    def loose(self, odds: Floats) -> Floats:
        """Per price, summed odds of the pieces without a stub of that day."""
        problem, units = self._chain.problem, self.line.units
        weights = self._loose * odds[units]
        return np.bincount(problem.bucket[units], weights, len(problem.prices)).astype(np.float64)

    def mode_shares(self, total: int, mix: Floats, *, mixed: bool) -> Floats:
        """Weight of every used mode for a tag total, with a piece without a stub or not."""
        amount, chain = self.amount, self._chain
        if mixed:
            place = int(np.searchsorted(chain.with_one, total)) - amount.first
            weights: Floats = amount.beside[place] * mix[amount.used]
        else:
            weights = amount.modes[np.searchsorted(chain.sums, total)] * mix[amount.used]
        return weights


def _own(chain: Chain, line: LineProblem, single: Floats, bundle: Floats) -> tuple[Floats, Floats]:
    """Odds of the stubs of every move, alone and with a piece beside; lines alike share them."""
    key = b"".join(a.tobytes() for a in (single, bundle, line.sizes))
    if key not in chain.alike:
        moves = chain.moves
        plain = moves.size[moves.plain]
        own = (line.sizes[moves.size] / ORDERS[moves.size])[:, None]
        mixed = (line.sizes[plain + 1] / ORDERS[plain])[:, None]
        if (single != 1).any() or (bundle != 1).any():
            both, kind = np.stack([single, bundle]), np.where(moves.size == 1, 0, 1)
            own = own * np.prod(both[kind[:, None, None], moves.index], axis=2)
            mixed = mixed * np.prod(bundle[moves.index[moves.plain]], axis=2)
        chain.alike[key] = own, mixed
    return chain.alike[key]


def _of_stubs(chain: Chain, line: LineProblem, own: Floats) -> Floats:
    """A line's odds of its units, per stub; 1 for units it does not know, and for no stub."""
    known = np.ones(len(chain.problem.units))
    known[line.units] = own
    return np.append(known[chain.unit], 1.0)


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
