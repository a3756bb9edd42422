"""How many to take when too few loses sales and too many costs space: the newsvendor's question.

Source:
    The newsvendor model, e.g. Porteus, Foundations of Stochastic Inventory Theory (2002).
"""

from __future__ import annotations

from math import ceil

import msgspec
import numpy as np
from numpy.typing import NDArray


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """What a quantity brings on average, in pieces: sold, asked for in vain, left over."""

    sold: float
    lost: float
    left: float


def critical_fractile(under: float, over: float) -> float:
    """Tell the chance with which the quantity should suffice.

    Args:
        under: What one piece too few costs; above 0.
        over: What one piece too many costs; not negative.
    """
    return under / (under + over)


def quantity_for(demand: NDArray[np.int64], fractile: float) -> int:
    """Find the smallest quantity that suffices in at least *fractile* of the drawn demands."""
    at = max(0, ceil(fractile * demand.size - 1e-9) - 1)
    return int(np.partition(demand, at)[at])


def outcome(demand: NDArray[np.int64] | NDArray[np.float64], quantity: float) -> Outcome:
    """Average what a quantity brings over drawn demands."""
    sold = float(np.minimum(demand, quantity).mean())
    return Outcome(sold=sold, lost=float(demand.mean()) - sold, left=quantity - sold)
