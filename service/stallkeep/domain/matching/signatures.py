"""Which tag prices a payment may have been for: sets of one to four prices, not of pieces.

Pieces at one price differ only in their own odds, so explanations are generated over *price
signatures* (multisets of distinct tag prices) and the pieces behind each price are summed exactly
by elementary symmetric polynomials. Two hundred pieces on twenty prices have sixty million
sets of four and under nine thousand signatures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from stallkeep.domain.matching.amounts import MODE_INDEX, mode_matrix
from stallkeep.domain.matching.modes import Bools, Floats, Ints

LARGEST_BUNDLE = 4
MOST_SIGNATURES = 60_000  # per bundle size; beyond, the mass is counted but not listed
DEEPEST = 0.4  # amounts below this share of the tags' sum are not looked for among bundles
HIGHEST = 1.3
KEPT_SHARE = 0.9995
MOST_KEPT = 700


class Universe:
    """All signatures of one rail, by size.

    Attributes:
        prices: Distinct tag prices, ascending, minor units.
        counts: Pieces at each.
        members: Per size n, an S x n array of price indices, ascending in each row.
        totals: Per size, the S sums, ascending.
        cheapest: Per size, the S lowest prices.
        columns: Per size, an S x n array: where to find each price's polynomial, see column().
        unlisted: Per size that is too numerous, its number of sets per sum: (sums, counts).
    """

    def __init__(self, prices: Ints, counts: Ints) -> None:
        self.prices = prices
        self.counts = counts
        self.members: dict[int, Ints] = {}
        self.totals: dict[int, Ints] = {}
        self.cheapest: dict[int, Ints] = {}
        self.columns: dict[int, Ints] = {}
        self.unlisted: dict[int, tuple[Ints, Floats]] = {}
        self._build()

    def _build(self) -> None:
        number = len(self.prices)
        rows = np.arange(number, dtype=np.int64).reshape(-1, 1)
        for size in range(1, LARGEST_BUNDLE + 1):
            if size > 1:
                if math.comb(number + size - 1, size) > MOST_SIGNATURES:
                    self._count_unlisted(size)
                    continue
                rows = _extended(rows, number)
            self._keep(size, rows)

    def _keep(self, size: int, rows: Ints) -> None:
        runs = _run_lengths(rows)
        rows_ok = rows[(runs <= self.counts[rows]).all(axis=1)]
        order = np.argsort(self.prices[rows_ok].sum(axis=1), kind="stable")
        rows_ok = rows_ok[order]
        self.members[size] = rows_ok
        self.totals[size] = self.prices[rows_ok].sum(axis=1)
        self.cheapest[size] = self.prices[rows_ok[:, 0]] if size else self.totals[size]
        self.columns[size] = _columns(rows_ok)

    def list_named(self, size: int, named: tuple[int, ...]) -> None:
        """List the sets of an unlisted size that hold all named prices, and one more at most."""
        rows: list[tuple[int, ...]] = []
        if len(named) == size:
            rows = [named]
        elif len(named) == size - 1:
            rows = [tuple(sorted((*named, b))) for b in range(len(self.prices))]
        self._keep(size, np.array(rows, dtype=np.int64).reshape(-1, size))

    def _count_unlisted(self, size: int) -> None:
        sums = subset_sum_counts(self.prices, self.counts)[size]
        there = np.nonzero(sums >= 1)[0]
        self.unlisted[size] = (there * _grid(self.prices), sums[there])


def _extended(rows: Ints, number: int) -> Ints:
    """Append to every ascending row each index from its last one up."""
    more = number - rows[:, -1]
    longer = np.repeat(rows, more, axis=0)
    starts = np.repeat(np.cumsum(more) - more, more)
    last = np.arange(len(longer)) - starts + np.repeat(rows[:, -1], more)
    return np.column_stack([longer, last])


def _run_lengths(rows: Ints) -> Ints:
    """How many times an entry has occurred in its row so far, itself included."""
    runs = np.ones_like(rows)
    for j in range(1, rows.shape[1]):
        runs[:, j] = np.where(rows[:, j] == rows[:, j - 1], runs[:, j - 1] + 1, 1)
    return runs


def column(price_index: int, times: int) -> int:
    """Place of "*times* pieces of this price" in a table of polynomials; 0 is the constant 1."""
    return price_index * LARGEST_BUNDLE + times


def _columns(rows: Ints) -> Ints:
    runs = _run_lengths(rows)
    ends = np.ones(rows.shape, dtype=bool)
    ends[:, :-1] = rows[:, 1:] != rows[:, :-1]
    return np.where(ends, rows * LARGEST_BUNDLE + runs, 0)


def _grid(prices: Ints) -> int:
    return int(np.gcd.reduce(prices)) if len(prices) else 1


def subset_sum_counts(prices: Ints, counts: Ints) -> dict[int, Floats]:
    """Count sets of 2 to 4 pieces by the sum of their tags, without listing them.

    Returns:
        Per size, an array whose entry s counts the sets with sum s times the prices' common
        divisor. Newton's identities on the generating polynomials.
    """
    grid = _grid(prices)
    places = (prices // grid).astype(np.int64)
    width = int(places.max()) * LARGEST_BUNDLE + 1
    power = np.zeros((LARGEST_BUNDLE + 1, width))
    for k in range(1, LARGEST_BUNDLE + 1):
        np.add.at(power[k], places * k, counts.astype(np.float64))
    size = 1 << (2 * width - 1).bit_length()
    spectrum = [np.fft.rfft(row, size) for row in power]
    elementary = [np.ones_like(spectrum[0])]
    for n in range(1, LARGEST_BUNDLE + 1):
        terms = [(-1) ** (k - 1) * elementary[n - k] * spectrum[k] for k in range(1, n + 1)]
        elementary.append(np.sum(terms, axis=0) / n)
    return {
        n: np.maximum(np.rint(np.fft.irfft(elementary[n], size)[:width]), 0.0)
        for n in range(2, LARGEST_BUNDLE + 1)
    }


def polynomials(powers: list[Floats]) -> list[Floats]:
    """Elementary symmetric polynomials e1..en from power sums p1..pn (Newton's identities)."""
    elementary = powers[:1]
    for n in range(2, len(powers) + 1):
        total = elementary[n - 2] * powers[0] + (-1) ** (n - 1) * powers[n - 1]
        for k in range(2, n):
            total += (-1) ** (k - 1) * elementary[n - k - 1] * powers[k - 1]
        elementary.append(np.maximum(total / n, 0.0))
    return elementary


class Listed:
    """The signatures weighed for one line.

    Attributes:
        sizes: K numbers of pieces, ascending.
        columns: K x 4 places of polynomials (see column()), 0-padded.
        members: K x 4 price indices, ascending, padded with -1.
        modes: K x modes likelihoods of the amount.
        unlisted: Prior-mean weight per size of sets counted but not listed, as a share
            of P(size); length LARGEST_BUNDLE + 1.
    """

    def __init__(
        self, sizes: Ints, columns: Ints, members: Ints, modes: Floats, unlisted: Floats
    ) -> None:
        self.sizes = sizes
        self.columns = columns
        self.members = members
        self.modes = modes
        self.unlisted = unlisted

    def only(self, rows: Bools) -> Listed:
        """The same with some of the signatures."""
        return Listed(
            self.sizes[rows],
            self.columns[rows],
            self.members[rows],
            self.modes[rows],
            self.unlisted,
        )


def list_signatures(
    universe: Universe,
    amount: int,
    step: int,
    *,
    table_one: Floats,
    table_many: Floats,
    shares: tuple[Floats, Floats, Floats],
    pieces: int,
    named: Sequence[int] = (),
) -> Listed:
    """Find the signatures worth weighing for one amount.

    Args:
        universe: The rail's signatures.
        amount: Paid for pieces.
        step: Price step.
        table_one: Polynomials of the line's piece odds for single pieces.
        table_many: The same for bundles.
        shares: Expected shares of kinds, modes of one, modes of many.
        pieces: Pieces on the rail (for the uniform prior over sets of a size).
        named: Price indices of pieces whose codes stand beside the amount; sets of these, and
            of these and one more, are listed whatever their number.
    """
    kind, one, many = shares
    found: list[tuple[int, Ints, Ints, Floats, Floats]] = []
    unlisted = np.zeros(LARGEST_BUNDLE + 1)
    for size in range(1, LARGEST_BUNDLE + 1):
        prior = float(kind[size - 1]) / max(math.comb(pieces, size), 1)
        mix = one if size == 1 else many
        if size in universe.unlisted:
            sums, number = universe.unlisted[size]
            likely = mode_matrix(sums, amount, step) @ mix
            unlisted[size] += float(likely @ number) / max(math.comb(pieces, size), 1)
            universe.list_named(size, tuple(sorted(named)))
        if size not in universe.members or not len(universe.members[size]):
            continue
        low, high = _window(universe.totals[size], amount, size)
        totals = universe.totals[size][low:high]
        if not len(totals):
            continue
        distinct, back = np.unique(totals, return_inverse=True)
        by_total = mode_matrix(distinct, amount, step)
        weight = (by_total @ mix)[back]
        gift = (totals - universe.cheapest[size][low:high] == amount) & (size > 1)
        weight = weight + gift * mix[MODE_INDEX["cheapest_free"]]
        table = table_one if size == 1 else table_many
        columns = universe.columns[size][low:high]
        for j in range(size):
            weight = weight * table[columns[:, j]]
        rows = np.nonzero(weight > 0)[0]
        modes = by_total[back[rows]]
        modes[:, MODE_INDEX["cheapest_free"]] = gift[rows]
        found.append((size, low + rows, columns[rows], modes, prior * weight[rows]))
    return _pruned(universe, found, unlisted, kind)


def _window(totals: Ints, amount: int, size: int) -> tuple[int, int]:
    if size == 1:
        return 0, len(totals)
    low = int(np.searchsorted(totals, amount / HIGHEST, side="left"))
    return low, int(np.searchsorted(totals, amount / DEEPEST, side="right"))


def _pruned(
    universe: Universe,
    found: list[tuple[int, Ints, Ints, Floats, Floats]],
    unlisted: Floats,
    kind: Floats,
) -> Listed:
    weights = np.concatenate([f[4] for f in found]) if found else np.zeros(0)
    keep = _kept(weights)
    start = 0
    parts: list[tuple[Ints, Ints, Ints, Floats]] = []
    for size, rows, columns, modes, weight in found:
        mine = keep[start : start + len(weight)]
        start += len(weight)
        unlisted[size] += float(weight[~mine].sum()) / max(float(kind[size - 1]), 1e-12)
        pad = LARGEST_BUNDLE - size
        parts.append(
            (
                np.full(int(mine.sum()), size, dtype=np.int64),
                np.pad(columns[mine], ((0, 0), (0, pad))),
                np.pad(universe.members[size][rows[mine]], ((0, 0), (0, pad)), constant_values=-1),
                modes[mine],
            )
        )
    if not parts:
        none = np.zeros((0, LARGEST_BUNDLE), dtype=np.int64)
        return Listed(none[:, 0], none, none, np.zeros((0, len(MODE_INDEX))), unlisted)
    return Listed(
        np.concatenate([p[0] for p in parts]),
        np.concatenate([p[1] for p in parts]),
        np.concatenate([p[2] for p in parts]),
        np.concatenate([p[3] for p in parts]),
        unlisted,
    )


def _kept(weights: Floats) -> Bools:
    """The heaviest that make up KEPT_SHARE of the mass, MOST_KEPT at most."""
    order = np.argsort(-weights, kind="stable")
    reached = np.cumsum(weights[order])
    enough = int(np.searchsorted(reached, KEPT_SHARE * reached[-1])) + 1 if len(weights) else 0
    keep = np.zeros(len(weights), dtype=bool)
    keep[order[: min(enough, MOST_KEPT)]] = True
    return keep
