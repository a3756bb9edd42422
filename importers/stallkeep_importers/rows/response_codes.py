"""Numbers a card terminal's host answers with, as exports show them: "00", "05", "51 No funds".

Source: ISO 8583, data element 39: response codes of two digits (edition of 1987) and action codes
of three (edition of 1993). National and private codes mean what each network likes: they are none.
"""

from __future__ import annotations

import re
from typing import Literal, TypeAlias

Answer: TypeAlias = Literal["completed", "not_completed"]

_CODE = re.compile(
    r"\(?([0-9]{1,3})\)?(?:\s*[-:/|.]?\s*(\D.*))?|(\D.*?)\s*[\(\[-]\s*([0-9]{2,3})[\)\]]?"
)
_PRIVATE = re.compile("[0-9A-Z]{1,3}")
_APPROVED = {"00", "08", "11", "16", "000", "001", "003", "004", "005", "007"}
# approved for a part, for nothing but a check of the card, or in dispute: not one or the other
_NEITHER = {"10", "18", "32", "80", "85", "87", "002", "006"}
_TWO_DIGITS = (*range(1, 45), *range(51, 69), *range(75, 100))
_DECLINED = {f"{code:02}" for code in _TWO_DIGITS} | {
    str(code) for code in (*range(100, 130), *range(180, 210), *range(900, 924))
}


def parted(cell: str) -> tuple[str, str] | None:
    """Part "05 Do not honour" or "Declined (05)" into code and words; None without a code."""
    match = _CODE.fullmatch(cell.strip())
    if not match:
        return None
    return (match[4], match[3]) if match[4] else (match[1], (match[2] or "").strip())


def is_answer(cell: str) -> bool:
    """Say whether a cell may be what a host answered: a code, with words or without."""
    return parted(cell) is not None or _PRIVATE.fullmatch(cell.strip()) is not None


def answer(code: str, *, is_bare: bool = False) -> Answer | None:
    """Say what a code means; None where it is neither paid nor declined, or unknown.

    Args:
        code: Digits.
        is_bare: Whether a single digit is a code whose nought a spreadsheet took away.
    """
    full = code.zfill(2) if is_bare else code
    if full in _NEITHER:
        return None
    if full in _APPROVED:
        return "completed"
    return "not_completed" if full in _DECLINED else None
