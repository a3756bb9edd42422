"""What is wrong with one cell, as a value: an import goes on over a bad row."""

from __future__ import annotations

import msgspec


class Fault(msgspec.Struct, frozen=True):
    """Why a cell could not be taken.

    Attributes:
        code: Kebab-case, stable.
        reason: One sentence for the seller.
        advice: One sentence: what to do.
    """

    code: str
    reason: str
    advice: str
