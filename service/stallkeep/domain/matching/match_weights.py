"""Match weights in bits, after Fellegi and Sunter: what one comparison says about a pair.

Source: Fellegi, Sunter, "A theory for record linkage", JASA 64 (1969) 1183-1210.
"""

from __future__ import annotations

import math


def agreement_bits(m: float, u: float) -> float:
    """Weight of an outcome seen in the share *m* of true pairs and *u* of all others.

    Both above 0 and at most 1; a rare outcome that true pairs show is worth most.
    """
    return math.log2(m / u)


def disagreement_bits(m: float, u: float) -> float:
    """Weight of that outcome not being seen; both below 1."""
    return math.log2((1.0 - m) / (1.0 - u))


def probability_of(bits: float) -> float:
    """Probability of a match, given the sum of all its weights, that of the prior included."""
    if bits >= 0:
        return 1.0 / (1.0 + math.exp2(-bits))
    odds = math.exp2(max(bits, -1000.0))
    return odds / (1.0 + odds)
