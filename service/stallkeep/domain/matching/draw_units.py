"""Draw the pieces of a set once the prices of the set are drawn, in many chains at once."""

from __future__ import annotations

import numpy as np

from stallkeep.domain.matching.modes import Floats, Ints
from stallkeep.domain.matching.signatures import polynomials


def draw_units(
    odds: Floats,
    bounds: Ints,
    price: Ints,
    chains: Ints,
    *,
    rng: np.random.Generator,
    more: Ints | None = None,
) -> Ints:
    """Draw a unit of the given price per chain, in proportion to its odds.

    Args:
        odds: Units x chains, by price.
        bounds: Where the units of each price begin, and the end.
        price: Per draw, index of a price.
        chains: Per draw, its chain.
        rng: For the draws.
        more: Per draw, how many of that price are to be drawn yet: a set of several is as likely
            as the product of its odds, so the first ones drawn weigh in those to come.
    """
    low, end = bounds[price], bounds[price + 1]
    index = low + np.arange((end - low).max())[:, None]
    own = odds[np.minimum(index, bounds[-1] - 1), chains]
    own *= index < end
    if more is not None and more.any():
        for number in set(more[more > 0].tolist()):
            own[:, more == number] *= _ways_without(own[:, more == number], number)
    running = own.cumsum(axis=0)
    aim = rng.random(len(chains)) * running[-1]
    unit: Ints = np.minimum(low + (running <= aim).sum(axis=0), end - 1)
    return unit


def _ways_without(own: Floats, more: int) -> Floats:
    """For each entry, the polynomial e_more of the others in its column."""
    powers = [(own**k).sum(axis=0) - own**k for k in range(1, more + 1)]
    return polynomials(powers)[more - 1]
