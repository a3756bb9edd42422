"""Pieces without a price on their tag: what was paid says little about them, other evidence may.

They stand on the rail at price 0, in a place of their own before all others, and are weighed as if
their price were drawn from the rail's: alone, and beside one priced piece.
"""

from __future__ import annotations

import numpy as np

from stallkeep.domain.matching.amounts import mode_matrix
from stallkeep.domain.matching.modes import MODES, Floats, Ints
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE, Listed, column

PLACE = 0  # index of price 0 among the distinct prices, where there is one


def unpriced_modes(
    prices: Ints, weights: Floats, paid: int, step: int, *, otherwise: float
) -> tuple[Ints, Floats]:
    """Likelihood of an amount for a piece without a price.

    Args:
        prices: Distinct prices, ascending, the first being 0.
        weights: Pieces at each.
        paid: Minor units.
        step: From price_step.
        otherwise: The likelihood where no piece has a price.

    Returns:
        Indices of the prices it may stand beside, and one row of modes for it alone, then one
        for each of these.
    """
    whole = float(weights[1:].sum())
    if not whole:
        return np.zeros(0, dtype=np.int64), np.full((1, len(MODES)), otherwise)
    beside = np.nonzero((prices > 0) & (prices < paid))[0]
    sums = np.concatenate([prices[1:], (prices[beside, None] + prices[None, 1:]).ravel()])
    distinct, back = np.unique(sums, return_inverse=True)
    each = mode_matrix(distinct, paid, step)[back].reshape(1 + len(beside), len(prices) - 1, -1)
    rows: Floats = np.einsum("p,rpm->rm", weights[1:] / whole, each)
    return beside, rows


def with_unpriced(listed: Listed, beside: Ints, modes: Floats) -> Listed:
    """Add an unpriced piece alone, and beside one priced piece, to what is listed.

    Args:
        listed: Signatures of priced pieces, of ascending size.
        beside: Indices of prices, from unpriced_modes.
        modes: Rows of modes, from unpriced_modes.
    """
    members = np.full((len(modes), LARGEST_BUNDLE), -1, dtype=np.int64)
    columns = np.zeros((len(modes), LARGEST_BUNDLE), dtype=np.int64)
    members[:, 0], columns[:, 0] = PLACE, column(PLACE, 1)
    members[1:, 1], columns[1:, 1] = beside, [column(int(b), 1) for b in beside]
    sizes = np.concatenate([listed.sizes, [1], np.full(len(beside), 2)])
    order = np.argsort(sizes, kind="stable")
    return Listed(
        sizes[order],
        np.concatenate([listed.columns, columns])[order],
        np.concatenate([listed.members, members])[order],
        np.concatenate([listed.modes, modes])[order],
        listed.unlisted,
    )
