"""One line of money brought into arrays: what it may have been for, as numbers."""

from __future__ import annotations

import msgspec
import numpy as np

from stallkeep.domain.matching.habits import KINDS
from stallkeep.domain.matching.modes import Floats, Ints
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.signatures import Listed
from stallkeep.domain.matching.text_evidence import TextOdds

EXTRA = ("untagged", "double_charge", "two", "three", "four")
KIND_OF_EXTRA = np.array([KINDS.index(name) for name in EXTRA])


class LineProblem(msgspec.Struct):
    """One line and everything it may have been for.

    Attributes:
        line: As given.
        paid: Minor units paid for pieces: no tip, no tax on top, no postage.
        units: Indices of units that may be meant, ascending.
        starts: Where each price of *prices* begins in *units*.
        prices: Indices of distinct prices met, ascending.
        single, bundle: Odds per entry of *units* in sets of one, of several.
        listed: Signatures; their columns point into the line's own table.
        extra: Weights of the explanations EXTRA, apart from the shares of kinds.
        sizes: Factor per number of pieces (0..4).
        twin: Transaction id of the line this may be a doubled charge of.
        text: What the words said.
    """

    line: MoneyLine
    paid: int
    units: Ints
    starts: Ints
    prices: Ints
    single: Floats
    bundle: Floats
    listed: Listed
    extra: Floats
    sizes: Floats
    twin: str | None = None
    text: TextOdds | None = None
