"""The ways a price may come about, by name, in the order every array of shares keeps."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

STEPS = (1, 2, 5, 10, 20)  # in price steps: one unit of the currency for prices around 25
PERCENTS = (5, 10, 15, 20, 25, 30, 40, 50)
OFFS = (1, 2, 3, 5, 10)
ABOVE = (5, 6, 7, 8, 9, 10, 12, 15, 18, 20)  # per cent on top, to the cent: terminal tips, taxes

MODES: tuple[str, ...] = (
    "exact",
    *(f"down_{step}_next" for step in STEPS),
    *(f"down_{step}_second" for step in STEPS),
    *(f"down_{step}_deep" for step in (1, 5, 10)),
    *(f"percent_{percent}" for percent in PERCENTS),
    *(f"off_{off}" for off in OFFS),
    *(f"above_{percent}" for percent in ABOVE),
    "round_up",
    "tip",
    "cheapest_free",
    "mis_keyed",
    "other",
)
