"""How long pieces wait until they are sold, those still waiting counted in."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np
from scipy.stats import CensoredData, ecdf

HALF = 0.5


class Wait(msgspec.Struct, frozen=True, kw_only=True):
    """Days on offer of one piece.

    Attributes:
        days: Days until it was sold, or until now (or its withdrawal) when it was not.
        is_sold: False while it waits.
    """

    days: int
    is_sold: bool


def median_days(waits: Sequence[Wait]) -> int | None:
    """Tell after how many days half of the pieces are sold; None when fewer than half ever were.

    A piece still waiting says only "longer than this", so leaving it out would make a channel
    look quicker than it is.

    Source:
        Kaplan and Meier (1958), product-limit estimate; the median is the first time at which
        the share still waiting is at most one half.
    """
    sold = [float(wait.days) for wait in waits if wait.is_sold]
    if not sold:
        return None
    waiting = [float(wait.days) for wait in waits if not wait.is_sold]
    share = ecdf(CensoredData(uncensored=np.array(sold), right=np.array(waiting))).sf
    reached = share.quantiles[share.probabilities <= HALF + 1e-12]
    return int(reached[0]) if reached.size else None
