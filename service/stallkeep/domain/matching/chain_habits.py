"""The seller's habits as each chain draws them, given what it takes the lines to be for."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from stallkeep.domain.matching.first_look import FirstLook
from stallkeep.domain.matching.habits import KINDS, Beliefs
from stallkeep.domain.matching.modes import MODES, Floats, Ints
from stallkeep.domain.matching.sampled_line import SampledLine


class Uses(msgspec.Struct, frozen=True):
    """How often each chain has used every kind and mode: names x chains."""

    kind: Floats
    one: Floats
    many: Floats


class ChainHabits:
    """Shares of kinds and modes, one column per chain.

    Attributes:
        kind, one, many: Names x chains, shares.
        kind_gain, one_gain, many_gain: Mean uses over the kept sweeps.
        one_mean, many_mean: Sums of the mean shares over the kept sweeps.
    """

    def __init__(
        self, beliefs: Beliefs, start: FirstLook | None, chains: int, rng: np.random.Generator
    ) -> None:
        self._rng = rng
        self._kind_prior = beliefs.kind[:, None]
        self._one_prior, self._many_prior = beliefs.one[:, None], beliefs.many[:, None]
        self._ways = (beliefs.one_ways, beliefs.many_ways) if start else None
        self.kind = start.kind if start else _expected(beliefs.kind, chains)
        self.one = start.one if start else _expected(beliefs.one, chains)
        self.many = start.many if start else _expected(beliefs.many, chains)
        self.kind_gain = np.zeros(len(KINDS))
        self.one_gain, self.one_mean = np.zeros(len(MODES)), np.zeros(len(MODES))
        self.many_gain, self.many_mean = np.zeros(len(MODES)), np.zeros(len(MODES))

    def draw(self, uses: Uses, *, kept: bool) -> None:
        """Draw every chain's kind of seller and habits anew, and remember what was used.

        Args:
            uses: What the chains hold.
            kept: Whether the sweep counts for the means.
        """
        if self._ways:
            one, many = self._ways
            self._one_prior = one.draw_priors(uses.one, self._rng)
            self._many_prior = many.draw_priors(uses.many, self._rng)
        self.kind = self._dirichlet(self._kind_prior + uses.kind)
        self.one = self._dirichlet(self._one_prior + uses.one)
        self.many = self._dirichlet(self._many_prior + uses.many)
        if kept:
            self.kind_gain += uses.kind.mean(axis=1)
            self.one_gain += uses.one.mean(axis=1)
            self.many_gain += uses.many.mean(axis=1)
            self.one_mean += self.one.mean(axis=1)
            self.many_mean += self.many.mean(axis=1)

    def close(self, sweeps: int) -> None:
        """Turn the gains into means."""
        self.kind_gain /= sweeps
        self.one_gain /= sweeps
        self.many_gain /= sweeps

    def uses(self, lines: Sequence[SampledLine], choice: Ints, *, modes: bool) -> Uses:
        """Count what the chains hold now, drawing the mode behind every set of pieces.

        Args:
            lines: The lines.
            choice: Lines x chains, signature drawn, or EXTRA beyond the signatures.
            modes: Whether modes are behind the amounts.
        """
        number, chains = choice.shape
        kinds = [line.kinds[c] for line, c in zip(lines, choice, strict=True)]
        every = np.arange(chains)
        kind = _counted(np.array(kinds).ravel(), np.tile(every, number), len(KINDS), chains)
        none = np.zeros((len(MODES), chains))
        if not modes:
            return Uses(kind, none, none)
        size = np.array([line.number[c] for line, c in zip(lines, choice, strict=True)])
        at, chain = np.nonzero(size)
        if not len(at):
            return Uses(kind, none, none)
        likely = np.concatenate([
            line.problem.listed.modes[c[n > 0]]
            for line, c, n in zip(lines, choice, size, strict=True)
        ])  # fmt: skip
        single = size[at, chain] == 1
        share = likely * np.where(single, self.one[:, chain], self.many[:, chain]).T
        running = share.cumsum(axis=1)
        aim = self._rng.random(len(at)) * running[:, -1]
        mode = np.minimum((running <= aim[:, None]).sum(axis=1), len(MODES) - 1)
        one = _counted(mode[single], chain[single], len(MODES), chains)
        return Uses(kind, one, _counted(mode[~single], chain[~single], len(MODES), chains))

    def _dirichlet(self, counts: Floats) -> Floats:
        drawn = np.maximum(self._rng.standard_gamma(counts), 1e-12) * (counts > 0)
        shares: Floats = drawn / drawn.sum(axis=0)
        return shares


def _expected(counts: Floats, chains: int) -> Floats:
    return np.repeat((counts / counts.sum())[:, None], chains, axis=1)


def _counted(row: Ints, column: Ints, rows: int, columns: int) -> Floats:
    counts = np.bincount((row * columns + column).astype(np.int64), minlength=rows * columns)
    return counts.reshape(rows, columns).astype(np.float64)
