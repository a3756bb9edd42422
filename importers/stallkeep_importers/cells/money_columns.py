"""A column of amounts → minor units: its decimal mark is decided for all cells, never for one."""

# ruff: noqa: PLR2004, RUF001 - two marks name themselves; dashes of every length are meant

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TypeAlias

import msgspec

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.cells.money import (
    MARKS,
    MAX_MINOR,
    Mark,
    Written,
    digits_under,
    is_ambiguous,
    marks_of,
    scaled,
    unwrapped,
    written,
)
from stallkeep_importers.contract import Choice, QuestionError
from stallkeep_importers.currencies import currencies_of, minor_units

_CACHE_SIZE = 1 << 16
_MOST_WHOLES = 1000


class Foreign(msgspec.Struct, frozen=True):
    """An amount whose own sign names another currency than its row."""

    minor: int
    currency: str


Amount: TypeAlias = int | Fault | Foreign | None


class MarkEvidence:
    """What a column's cells say about its decimal mark.

    Attributes:
        decisive: Cells that can be read under one mark only, counted by mark.
        ambiguous: The first few cells that give two different amounts.
        wholes: Distinct amounts written in digits alone, nought left out, as many as are kept.
        has_others: Whether any amount is written with a mark, a group sign or a currency.
    """

    def __init__(self, digits: int) -> None:
        self.digits = digits
        self.decisive: dict[Mark, int] = {".": 0, ",": 0}
        self.ambiguous: list[str] = []
        self.wholes: list[int] = []
        self.has_others = False

    def add(self, cells: Iterable[str]) -> None:
        """Weigh more cells."""
        for text in set(cells):
            if text.isascii() and text.isdigit():
                if len(self.wholes) < _MOST_WHOLES and (number := int(text[:18])):
                    self.wholes.append(number)
                continue
            self.has_others = self.has_others or written(text) is not None
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
        found = [mark for mark in MARKS if self.decisive[mark]]
        return found[0] if len(found) == 1 else None

    @property
    def commonest(self) -> Mark | None:
        """The mark of most decisive cells; the point where both are as common."""
        most = max(MARKS, key=lambda mark: self.decisive[mark])
        return most if self.decisive[most] else None


def ask_mark(column: str, texts: Sequence[str], currency: str, *, both: bool) -> QuestionError:
    """Ask which mark parts the decimals, showing two values of the column both ways."""
    shown = sorted(set(texts))[:2]
    choices = tuple(
        Choice(
            value=mark,
            meaning="; ".join(f"{text} is {_shown(text, mark, currency)}" for text in shown),
        )
        for mark in MARKS
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
