"""What chains have told about one line, and whether they agree."""

from __future__ import annotations

import numpy as np

from stallkeep.domain.matching.modes import Floats, Ints
from stallkeep.domain.matching.sampled_line import SampledLine, Weighed
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE

STILL = 1e-6  # variance of a probability below which a chain counts as standing still


class LineSums:
    """What is gathered about one line over all kept sweeps.

    Attributes:
        signature: Mean probability per signature, then per EXTRA.
        single: Mean probability per unit of being the only piece.
        sets: S x C x 4 unit indices drawn; a number beyond the last unit for none.
        choices: S x C signature drawn, or EXTRA beyond the signatures.
        path: S x C conditional probability of the reference signature, for the scale reduction.
        reference: The likeliest of the first kept sweep.
    """

    def __init__(self, line: SampledLine, sweeps: int, chains: int) -> None:
        self.line = line
        self.signature = np.zeros(len(line.number))
        self.single = np.zeros(len(line.units))
        self.sets = np.zeros((sweeps, chains, LARGEST_BUNDLE), dtype=np.int32)
        self.choices = np.zeros((sweeps, chains), dtype=np.int32)
        self.path = np.zeros((sweeps, chains))
        self.reference = 0

    def add(self, sweep: int, weighed: Weighed, total: Floats) -> None:
        """Take in the weights of one sweep, and their sum per chain."""
        line, weights, each = self.line, weighed.weights, 1.0 / total
        mean = weights @ (each / len(each))
        self.signature += mean
        if sweep == 0:
            self.reference = int(np.argmax(mean))
        self.path[sweep] = weights[self.reference] * each
        if line.singles:
            share = np.zeros_like(weighed.alone)
            share[line.alone] = weights[: line.singles] * each
            share /= np.maximum(weighed.alone, 1e-300)
            by_unit = np.einsum("uc,uc->u", weighed.single, share.take(line.price, axis=0))
            self.single += by_unit / len(each)

    def drew(self, sweep: int, choice: Ints, held: Ints) -> None:
        """Take in what one sweep has drawn: a signature per chain, and 4 x chains units."""
        self.choices[sweep] = choice
        self.sets[sweep] = held.T

    def close(self) -> None:
        """Turn sums over the sweeps into means."""
        self.signature /= len(self.path)
        self.single /= len(self.path)


def scale_reduction(path: Floats) -> float:
    """Potential scale reduction of S x C values (Gelman and Rubin 1992); 1 when nothing varies."""
    sweeps, _ = path.shape
    if sweeps <= 1:
        return 1.0
    within = float(path.var(axis=0, ddof=1).mean())
    between = float(path.mean(axis=0).var(ddof=1))
    if max(within, between) < STILL:
        return 1.0
    return float(np.sqrt((sweeps - 1) / sweeps + between / max(within, 1e-9)))
