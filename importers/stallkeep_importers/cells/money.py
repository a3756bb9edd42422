"""Text → an amount's sign, digits and currency, under each mark that may part its decimals.

A bare number is read under both marks. Where only one reading is possible the cell is *decisive*;
where both are and they differ ("1.234") it is *ambiguous*, and something else must settle it.
"""

# ruff: noqa: PLR2004, RUF001 - numbers of digits name themselves; the odd signs are the subject

from __future__ import annotations

import re
from typing import Literal, TypeAlias

import msgspec

from stallkeep_importers.cells.latin import SIGNS
from stallkeep_importers.currencies import currencies_of

Mark: TypeAlias = Literal[".", ","]

MAX_MINOR = 10**13  # 900,000 such rows still add up in 64 bits
_SPACES = " \u00a0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u3000"
_TRANSLATION = type(SIGNS)(
    SIGNS
    | str.maketrans(
        _SPACES + "−–—﹣－" + "’‘ʼ´`′＇" + "．，＋（）￥＄￡٫٬",
        " " * len(_SPACES) + "-----" + "'''''''" + ".,+()¥$£.,",
    )
)
_SIGN_TEXT = r"[^\W\d_]{1,3}\.?\$?|[$€£¥\\₹₩₺₴₽₪₫₱฿₦₡₲₸₾]|[A-Za-z]{1,3}[$]|euros?|円|元"
_CELL = re.compile(
    rf"""
    (?:(?P<money_0>{_SIGN_TEXT})\s*(?=\())?
    (?P<open>\(\s*)?
    (?P<sign_1>[-+]\s*)?
    (?:(?P<money_1>{_SIGN_TEXT})\s*)?
    (?P<sign_2>[-+]\s*)?
    (?P<number>[0-9.,][0-9.,' ]*[0-9]|[0-9])
    (?P<dash>[.,]-{{1,2}}(?![0-9]))?
    (?P<sign_3>\s*[-+])?
    (?:\s*(?P<money_2>{_SIGN_TEXT}))??
    (?P<sign_4>\s*[-+])?
    (?:\s*(?P<side>[cCdD][rR])\.?)?
    (?P<close>\s*\))?
    """,
    re.VERBOSE | re.IGNORECASE,
)
_GROUPED = r"[1-9][0-9]{{0,2}}(?P<group>[{other}' ])[0-9]{{3}}(?:(?P=group)[0-9]{{3}})*"
_LAKHS = r"[1-9][0-9]?(?:{other}[0-9]{{2}})+{other}[0-9]{{3}}"


def _pattern(mark: str, other: str) -> re.Pattern[str]:
    grouped = _GROUPED.format(other=other)
    lakhs = _LAKHS.format(other=re.escape(other))
    return re.compile(rf"(?P<whole>{grouped}|{lakhs}|[0-9]*)(?:{re.escape(mark)}(?P<part>[0-9]+))?")


_NUMBER: dict[Mark, re.Pattern[str]] = {".": _pattern(".", ","), ",": _pattern(",", ".")}
MARKS: tuple[Mark, Mark] = (".", ",")


class Written(msgspec.Struct, frozen=True):
    """An amount as it is written.

    Attributes:
        negative: By a minus, brackets or DR.
        number: Digits, marks and group signs only.
        money: What stands beside it: a sign or code, "" without.
    """

    negative: bool
    number: str
    money: str


Digits: TypeAlias = tuple[str, str]


def unwrapped(text: str) -> str:
    """Take off what spreadsheets put around text (``="12"``) or before it (``'12``), and blanks."""
    text = text.strip()
    if text.startswith("'") and not text.endswith("'"):
        text = text[1:].strip()
    if text.startswith('="') and text.endswith('"'):
        text = text[2:-1].strip()
    return text


def written(text: str) -> Written | None:
    """Take an amount apart, or None where the text is none."""
    bare = unwrapped(text if text.isascii() else text.translate(_TRANSLATION))
    match = _CELL.fullmatch(bare) if len(bare) <= 60 else None
    if not match:
        return None
    signs = [sign.strip() for sign in match.group("sign_1", "sign_2", "sign_3", "sign_4") if sign]
    opened, closed, side = match["open"], match["close"], match["side"]
    money = [sign for sign in match.group("money_0", "money_1", "money_2") if sign]
    if len(signs) + bool(opened) + bool(side) > 1 or bool(opened) != bool(closed):
        return None
    if len({currencies_of(sign) for sign in money}) > 1:
        return None
    negative = bool(opened) or signs == ["-"] or (side or "").upper() == "DR"
    return Written(negative, match["number"], money[0] if money else "")


def digits_under(number: str, mark: Mark) -> Digits | None:
    """Give the digits before and after the decimal mark, or None where it cannot be the mark."""
    match = _NUMBER[mark].fullmatch(number)
    if not match or not number:
        return None
    return re.sub("[^0-9]", "", match["whole"]) or "0", match["part"] or ""


def marks_of(number: str, digits: int) -> frozenset[Mark]:
    """Name the decimal marks under which a number can be read in a currency of *digits* digits.

    Both where they give the same amount; both too where they give different ones.
    """
    readings = {mark: digits_under(number, mark) for mark in MARKS}
    possible = {mark: found for mark, found in readings.items() if found is not None}
    if digits == 0 and len(possible) == 2:
        whole = {mark: found for mark, found in possible.items() if not found[1]}
        possible = whole or possible
    return frozenset(possible)


def is_ambiguous(number: str, digits: int) -> bool:
    """Say whether a number gives two different amounts under the two marks."""
    marks = marks_of(number, digits)
    return len(marks) == 2 and digits_under(number, ".") != digits_under(number, ",")


def scaled(found: Digits, digits: int) -> int | None:
    """Bring digits to minor units, or give None where that would need rounding.

    Noughts beyond the currency's digits lose nothing, except three digits in all: "12.500" in a
    column of "12.50" is as likely twelve thousand five hundred.
    """
    whole, part = found
    extra = part[digits:]
    if extra and (extra.strip("0") or len(part) == 3):
        return None
    return int(whole + part[:digits].ljust(digits, "0"))
