"""Sellers have few ways of coming to a price: kinds of sellers, and which kind this one may be.

A seller who goes down to the next five rarely takes percentages off as well. So the prior over the
ways to a price is a mixture of Dirichlet distributions: one per step, one each for percentages off
and on top, one for fixed sums off, one for tags that stand, and one that allows anything. A dozen
haggled prices tell them apart, and what the other ways would have claimed is free again.

The weights are common practice at stalls, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

import msgspec
import numpy as np
from scipy.special import gammaln

from stallkeep.domain.matching.modes import MODES, Floats

ANYTHING = 0.25  # how likely a seller is of no kind below
RESERVE = 0.06  # of the counts of "anything", kept by every other kind for what it rarely does
KIND_WEIGHTS: Mapping[str, float] = {
    "stands": 0.15,
    "down_1": 0.12,
    "down_2": 0.03,
    "down_5": 0.22,
    "down_10": 0.12,
    "down_20": 0.03,
    "percent": 0.05,
    "off": 0.03,
    "above": 0.02,
}
ALWAYS = ("tip", "mis_keyed", "other", "round_up", "cheapest_free")
"""Ways that any seller may have beside the main one; they keep their counts."""
_STEPPED = {"next": 1.0, "second": 0.3, "deep": 0.35}
_SPREAD = 1.2  # counts of percentages or fixed sums, over all of them


class Ways(msgspec.Struct, frozen=True):
    """A mixture of Dirichlet distributions over MODES.

    Attributes:
        log_weights: Z logarithms of the kinds' probabilities.
        counts: Z x modes, the kinds' Dirichlet counts.
    """

    log_weights: Floats
    counts: Floats

    def after(self, gained: Floats) -> Floats:
        """Probability of every kind once ways were used *gained* times (not whole numbers)."""
        return _softmax(self.log_weights + log_marginal(self.counts, gained))

    def mean_after(self, gained: Floats) -> Floats:
        """Expected shares of MODES once ways were used *gained* times."""
        counts = self.counts + gained
        mean: Floats = self.after(gained) @ (counts / counts.sum(axis=1, keepdims=True))
        return mean

    def draw(self, gained: Floats, rng: np.random.Generator) -> Floats:
        """Draw shares of MODES once ways were used *gained* times."""
        kind = rng.choice(len(self.counts), p=self.after(gained))
        return drawn_shares(self.counts[kind] + gained, rng)

    def draw_priors(self, gained: Floats, rng: np.random.Generator) -> Floats:
        """Draw the kind of seller of every chain once it used ways *gained* times.

        Args:
            gained: Modes x chains.
            rng: For the draws.

        Returns:
            Modes x chains, the drawn kinds' Dirichlet counts.
        """
        logs = self.log_weights[:, None] + log_marginal(self.counts, gained)
        running = np.exp(logs - logs.max(axis=0)).cumsum(axis=0)
        kind = (running <= rng.random(running.shape[1]) * running[-1]).sum(axis=0)
        priors: Floats = self.counts[np.minimum(kind, len(running) - 1)].T
        return priors


def drawn_shares(counts: Floats, rng: np.random.Generator) -> Floats:
    """Draw shares from a Dirichlet distribution; a count of 0 gives a share of 0."""
    drawn = np.maximum(rng.standard_gamma(counts), 1e-12) * (counts > 0)
    shares: Floats = drawn / drawn.sum()
    return shares


def ways_of(anything: Floats, learned: Floats) -> Ways:
    """Make the mixture.

    Args:
        anything: Counts of a seller who may do anything, by MODES, without what was learned.
        learned: Counts this shop has taught, by MODES.
    """
    index = {name: i for i, name in enumerate(MODES)}
    exact = anything[index["exact"]]
    rows = [anything]
    weights = [ANYTHING]
    for kind, weight in KIND_WEIGHTS.items():
        row = RESERVE * anything
        for name in ALWAYS:
            row[index[name]] = anything[index[name]]
        row[index["exact"]] = exact
        for name, count in _own(kind, anything, index).items():
            row[index[name]] += count
        rows.append(row)
        weights.append(weight)
    counts = np.array(rows)
    known = log_marginal(counts, learned)
    return Ways(np.log(_softmax(np.log(weights) + known) + 1e-300), counts + learned)


def _own(kind: str, anything: Floats, index: Mapping[str, int]) -> dict[str, float]:
    if kind in ("percent", "off", "above"):
        names = [name for name in MODES if name.startswith(f"{kind}_")]
        whole = sum(anything[index[name]] for name in names)
        return {name: _SPREAD * float(anything[index[name]]) / whole for name in names}
    return {
        f"{kind}_{how}": count
        for how, count in _STEPPED.items()
        if kind != "stands" and f"{kind}_{how}" in index
    }


def log_marginal(counts: Floats, gained: Floats) -> Floats:
    """Logarithm of the Dirichlet-multinomial probability of *gained* uses, in a given order.

    Args:
        counts: Z x modes, Dirichlet counts.
        gained: Uses by mode, or modes x chains; need not be whole.

    Returns:
        Z, or Z x chains.
    """
    used = np.nonzero(gained.any(axis=1) if gained.ndim > 1 else gained)[0]
    added = gained[used]
    whole, counts = counts.sum(axis=1), counts[:, used]
    if gained.ndim > 1:
        whole, counts = whole[:, None], counts[:, :, None]
    held = np.where(counts > 0, counts, 1.0)
    each = gammaln(held + np.where(counts > 0, added, 0.0)) - gammaln(held)
    out: Floats = gammaln(whole) - gammaln(whole + gained.sum(axis=0)) + each.sum(axis=1)
    return out


def _softmax(values: Floats) -> Floats:
    shifted = np.exp(values - values.max())
    shares: Floats = shifted / shifted.sum()
    return shares
