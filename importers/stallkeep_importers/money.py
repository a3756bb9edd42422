"""Text → minor units, with the decimal mark decided for the column, never for a cell.

A bare number is read under both marks. Where only one reading is possible the cell is *decisive*;
where both are and they differ ("1.234") it is *ambiguous*, and something else must settle it.
"""

# ruff: noqa: PLR2004, RUF001 - numbers of digits name themselves; the odd signs are the subject

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from typing import Literal, TypeAlias

import msgspec

from stallkeep_importers.contract import Choice, QuestionError
from stallkeep_importers.currencies import currencies_of, minor_units
from stallkeep_importers.faults import Fault

Mark: TypeAlias = Literal[".", ","]

MAX_MINOR = 10**15
_CACHE_SIZE = 1 << 16
_SPACES = " \u00a0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u3000"
_TRANSLATION = str.maketrans(
    _SPACES + "−–—﹣－" + "’‘ʼ´`′＇" + "０１２３４５６７８９" + "．，＋（）￥＄￡",
    " " * len(_SPACES) + "-----" + "'''''''" + "0123456789" + ".,+()¥$£",
    "\u200e\u200f\u202a\u202c\u2066\u2069\ufeff",
)
_SIGN_TEXT = r"[^\W\d_]{1,3}\.?\$?|[$€£¥₹₩₺₴₽₪₫₱฿₦₡₲₸₾]|[A-Za-z]{1,3}[$]|euros?|円|元"
_CELL = re.compile(
    rf"""
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
_MARKS: tuple[Mark, Mark] = (".", ",")


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


class Foreign(msgspec.Struct, frozen=True):
    """An amount whose own sign names another currency than its row."""

    minor: int
    currency: str


Digits: TypeAlias = tuple[str, str]
Amount: TypeAlias = int | Fault | Foreign | None


def unwrapped(text: str) -> str:
    """Take off what spreadsheets put around text (``="12"``) and blanks."""
    text = text.strip()
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
    money = [sign for sign in match.group("money_1", "money_2") if sign]
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
    readings = {mark: digits_under(number, mark) for mark in _MARKS}
    possible = {mark: found for mark, found in readings.items() if found is not None}
    if digits == 0 and len(possible) == 2:
        whole = {mark: found for mark, found in possible.items() if not found[1].strip("0")}
        possible = whole or possible
    return frozenset(possible)


def is_ambiguous(number: str, digits: int) -> bool:
    """Say whether a number gives two different amounts under the two marks."""
    marks = marks_of(number, digits)
    return len(marks) == 2 and digits_under(number, ".") != digits_under(number, ",")


class MarkEvidence:
    """What a column's cells say about its decimal mark.

    Attributes:
        decisive: Cells that can be read under one mark only, counted by mark.
        ambiguous: The first few cells that give two different amounts.
    """

    def __init__(self, digits: int) -> None:
        self.digits = digits
        self.decisive: dict[Mark, int] = {".": 0, ",": 0}
        self.ambiguous: list[str] = []
        self._seen: set[str] = set()

    def add(self, cells: Iterable[str]) -> None:
        """Weigh more cells."""
        for text in set(cells) - self._seen:
            if "." not in text and "," not in text and text.isascii():
                continue
            amount = written(text)
            if amount is None:
                continue
            marks = marks_of(amount.number, self.digits)
            if len(marks) == 1:
                self.decisive[next(iter(marks))] += 1
            elif is_ambiguous(amount.number, self.digits) and len(self.ambiguous) < 5:
                self.ambiguous.append(text)

    @property
    def mark(self) -> Mark | None:
        """The mark its decisive cells agree on."""
        found = [mark for mark in _MARKS if self.decisive[mark]]
        return found[0] if len(found) == 1 else None

    @property
    def commonest(self) -> Mark | None:
        """The mark of most decisive cells; the point where both are as common."""
        most = max(_MARKS, key=lambda mark: self.decisive[mark])
        return most if self.decisive[most] else None


def ask_mark(column: str, texts: Sequence[str], currency: str, *, both: bool) -> QuestionError:
    """Ask which mark parts the decimals, showing two values of the column both ways."""
    shown = sorted(set(texts))[:2]
    choices = tuple(
        Choice(
            value=mark,
            meaning="; ".join(f"{text} is {_shown(text, mark, currency)}" for text in shown),
        )
        for mark in _MARKS
    )
    seen = "is written in both styles" if both else "can be read in two ways"
    return QuestionError(
        "decimal-mark-undecided",
        f"The column “{column}” {seen}, and the file does not say which one is meant.",
        "Say which sign parts the decimals: a point or a comma.",
        parameter="decimal_mark",
        choices=choices,
        facts={"column": column, "values": shown},
    )


class MoneyColumn:
    """Reads one column's cells into minor units and keeps what it has read.

    Attributes:
        header: For messages.
        faulty: Whether any cell so far could not be read.
        foreign: Whether any cell so far named another currency than its row.
    """

    def __init__(
        self, header: str, mark: Mark | None, *, answered: bool = False, in_minor: bool = False
    ) -> None:
        self.header = header
        self.faulty = False
        self.foreign = False
        self._mark = mark
        self._answered = answered
        self._in_minor = in_minor
        self._caches: dict[str, _Cache] = {}
        self._ambiguous: list[str] = []
        self._other: list[str] = []

    def values(self, cells: Sequence[str], currency: str | Sequence[str]) -> list[Amount]:
        """Read cells; an empty one is None.

        Args:
            cells: As they stand.
            currency: ISO code for all, or one for each.

        Raises:
            QuestionError: The column turns out to be written in both styles, or a sign may mean
                several currencies.
        """
        if isinstance(currency, str):
            return list(map(self._cache(currency).__getitem__, cells))
        return [self._cache(code)[text] for code, text in zip(currency, cells, strict=True)]

    def _cache(self, currency: str) -> _Cache:
        cache = self._caches.get(currency)
        if cache is None:
            digits = minor_units()[currency]
            cache = _Cache(lambda text: self._read(text, currency, digits))
            self._caches[currency] = cache
        if len(cache) > _CACHE_SIZE:
            cache.clear()
        return cache

    def _read(self, text: str, currency: str, digits: int) -> Amount:
        value = self._value(text, currency, digits)
        if isinstance(value, Fault):
            self.faulty = True
        elif isinstance(value, Foreign):
            self.foreign = True
        return value

    def _value(self, text: str, currency: str, digits: int) -> Amount:
        bare = unwrapped(text)
        if not bare or bare in ("-", "–", "—"):
            return None
        amount = written(text)
        if amount is None:
            return _unreadable(text)
        own = _currency(amount.money, currency, self.header, text) if amount.money else currency
        if isinstance(own, Fault):
            return own
        if own != currency:
            digits = minor_units()[own]
        minor = self._minor(amount, text, own, digits)
        if isinstance(minor, Fault) or own == currency:
            return minor
        return Foreign(minor, own)

    def _minor(self, amount: Written, text: str, currency: str, digits: int) -> int | Fault:
        if self._in_minor:
            digits = 0
        self._watch(amount.number, text, currency, digits)
        marks = marks_of(amount.number, digits)
        if not marks:
            return _unreadable(text)
        mark = self._mark if len(marks) == 2 else next(iter(marks))
        if mark is None:
            mark = "."
        elif self._mark and mark != self._mark:
            return Fault(
                "money-other-style",
                f"“{text}” is not written like the other amounts of its column.",
                "Write it like the others and send the row again.",
            )
        found = digits_under(amount.number, mark)
        minor = scaled(found, digits) if found else None
        if minor is None:
            return Fault(
                "money-too-many-digits",
                f"“{text}” has more decimals than {currency} has.",
                "Correct the amount; it is not rounded here.",
            )
        if minor > MAX_MINOR:
            return Fault(
                "money-out-of-range", f"“{text}” is too large to be real.", "Correct the amount."
            )
        return -minor if amount.negative else minor

    def _watch(self, number: str, text: str, currency: str, digits: int) -> None:
        """Notice a column that is written in both styles and holds cells that fit either."""
        if self._answered:
            return
        marks = marks_of(number, digits)
        if is_ambiguous(number, digits):
            self._ambiguous.append(text)
        elif len(marks) == 1 and self._mark not in (None, *marks):
            self._other.append(text)
        if self._ambiguous and (self._other or self._mark is None):
            raise ask_mark(self.header, self._ambiguous, currency, both=bool(self._other))


class _Cache(dict[str, Amount]):
    """Texts read so far, and how to read another."""

    def __init__(self, read: Callable[[str], Amount]) -> None:
        super().__init__()
        self._read = read

    def __missing__(self, text: str) -> Amount:
        value = self[text] = self._read(text)
        return value


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


def _currency(money: str, expected: str, header: str, text: str) -> str | Fault:
    found = currencies_of(money)
    if expected in found:
        return expected
    if len(found) == 1:
        return next(iter(found))
    if not found:
        return Fault(
            "currency-unknown",
            f"“{text}” names a currency we do not know.",
            "Write the amount with its ISO code, such as EUR.",
        )
    raise QuestionError(
        "currency-undecided",
        f"“{text}” in the column “{header}” may be in {', '.join(sorted(found))}.",
        "Say which currency the file's amounts are in.",
        parameter="file_currency",
        choices=tuple(Choice(value=code, meaning=f"{text} is {code}") for code in sorted(found)),
        facts={"column": header, "values": [text]},
    )


def _shown(text: str, mark: Mark, currency: str) -> str:
    amount = written(text)
    found = digits_under(amount.number, mark) if amount else None
    if not amount or not found:
        return "not readable"
    whole, part = found
    number = f"{whole}.{part}" if part else whole
    return f"{'-' if amount.negative else ''}{number} {currency}"


def _unreadable(text: str) -> Fault:
    return Fault(
        "money-unreadable", f"“{text[:40]}” is no amount.", "Correct it and send the row again."
    )
