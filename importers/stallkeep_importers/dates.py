"""Text → dates, with the order of day and month decided for the column, never for a cell."""

# ruff: noqa: PLR2004, RUF001 - numbers of digits name themselves; the odd signs are the subject

from __future__ import annotations

import datetime as dt
import json
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any, Literal, TypeAlias

from stallkeep_importers.contract import Choice, QuestionError
from stallkeep_importers.faults import Fault

Order: TypeAlias = Literal["ymd", "dmy", "mdy"]

FIRST_YEAR, LAST_YEAR = 1990, 2100
_ORDERS: tuple[Order, ...] = ("dmy", "mdy", "ymd")
_NUMERIC = re.compile(r"([0-9]{1,4})([-./ ])\s?([0-9]{1,2})\2\s?([0-9]{1,4})\.?")
_POINTS = re.compile(r"[0-9]{1,2}\.\s?[0-9]{1,2}\.\s?[0-9]{2,4}\.?")
_COMPACT = re.compile(r"((?:19|20)[0-9]{2})([0-9]{2})([0-9]{2})")
_KANJI = re.compile(r"([0-9]{4})年\s?([0-9]{1,2})月\s?([0-9]{1,2})日")
_TOKENS = re.compile(r"[0-9]+|[^\W\d_]+")
_HEAD = re.compile(
    r"\s*((?:[0-9]{1,4}([-./])\s?[0-9]{1,2}\2\s?[0-9]{1,4}\.?)|[0-9]{8}"
    r"|[0-9]{4}年\s?[0-9]{1,2}月\s?[0-9]{1,2}日)(?:T|[\s,]+|(?=午|[（(])|$)(.*)",
    re.DOTALL | re.IGNORECASE,
)
_START = re.compile(
    r"(?:(?:午前|午後)\s?)?[0-9]{1,2}(?:[:h時]\s?[0-9]{2}|\s?[ap]\.?\s?m\b|\.[0-9]{2}\s*$)",
    re.IGNORECASE,
)
_FILLERS = re.compile(r"[\s,]+(?:at|um|kl\.?|à|a las|alle|om|o|v|ore|às)?[\s,]*$", re.IGNORECASE)
_FULL_WIDTH = str.maketrans("０１２３４５６７８９／－．", "0123456789/-.")
_SPAN_TOO_WIDE = 3 * 366


def split_moment(text: str) -> tuple[str, str]:
    """Part a cell into the text of its date and the text of its time of day, each perhaps empty."""
    if match := _HEAD.fullmatch(text):
        return match[1], match[3].strip()
    match = _START.search(text)
    if not match:
        return text.strip(), ""
    return _FILLERS.sub("", text[: match.start()]), text[match.start() :].strip()


@cache
def calendar() -> Mapping[str, Any]:
    """Names of months and days and marks of the half-day, from CLDR (see the tests)."""
    text = files("stallkeep_importers").joinpath("data/calendar.json").read_text("utf-8")
    data: Mapping[str, Any] = json.loads(text)
    return data


@cache
def _months() -> Mapping[str, int]:
    return {name: int(number) for number, names in calendar()["months"].items() for name in names}


def bare_word(text: str) -> str:
    """Bring a name to the form of the calendar's data: lower case, no accents."""
    spread = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in spread if not unicodedata.combining(letter))


def date_readings(text: str) -> dict[Order, dt.date] | dt.date | None:
    """Read a date in every way it can be.

    Args:
        text: A date without time of day.

    Returns:
        The date where only one order is thinkable, else the possible date by order (perhaps
        none: the 45th), else None where the text is no date at all.
    """
    text = text.strip().translate(_FULL_WIDTH)
    if len(text) > 40:
        return None
    match = _COMPACT.fullmatch(text) or _KANJI.fullmatch(text)
    if match:
        year, month, day = match.groups()
        return _date(int(year), int(month), int(day)) or {}
    if match := _NUMERIC.fullmatch(text):
        return _numeric(match[1], match[2], match[3], match[4])
    return _named(text)


def _numeric(
    first: str, mark: str, second: str, third: str
) -> dict[Order, dt.date] | dt.date | None:
    if len(first) == 4:
        return (_date(int(first), int(second), int(third)) or {}) if len(third) <= 2 else None
    if len(first) > 2 or len(third) not in (2, 4):
        return None
    if mark == ".":
        # no locale of CLDR writes numbers month-first with points, or a short year first,
        # save Korean, which ends in one
        return _date(_year(third), int(second), int(first)) or {}
    parts = {"dmy": (third, second, first), "mdy": (third, first, second)}
    if len(first) == len(third) == 2:
        parts["ymd"] = (first, second, third)
    found: dict[Order, dt.date] = {}
    for order in _ORDERS:
        if order in parts:
            year, month, day = parts[order]
            if date := _date(_year(year), int(month), int(day)):
                found[order] = date
    return found


def _named(text: str) -> dt.date | dict[Order, dt.date] | None:
    """Read a date with a month's name: exactly one name, one day and one year."""
    tokens = _TOKENS.findall(bare_word(text))
    numbers = [token for token in tokens if token.isdigit()]
    names = [_months()[token] for token in tokens if token in _months()]
    weekdays = calendar()["weekdays"]
    if len(names) == 2 and tokens[0] in weekdays and tokens[0] in _months():
        names = names[1:]  # "mar" is Tuesday and March
    fillers = {"de", "den", "d", "le", "el", "il", "the", "of", "del", "st", "nd", "rd", "th"}
    fillers |= {"r", "rok", "roku", "ar"}
    strange = [
        token
        for token in tokens
        if not token.isdigit()
        and token not in _months()
        and token not in weekdays
        and token not in fillers
    ]
    if len(names) != 1 or len(numbers) != 2 or strange:
        return None
    day, year = numbers
    if len(day) == 4:
        day, year = year, day
    if len(day) > 2 or len(year) not in (2, 4):
        return None
    return _date(_year(year), names[0], int(day)) or {}


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def _date(year: int, month: int, day: int) -> dt.date | None:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        return None
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


class OrderEvidence:
    """What a column's dates say about the order of day and month.

    Attributes:
        has_points: Whether any date is read day first because it is written with points.
    """

    def __init__(self) -> None:
        self._fitting: dict[Order, list[dt.date]] = {order: [] for order in _ORDERS}
        self._texts: dict[str, dict[Order, dt.date]] = {}
        self.has_points = False

    def add(self, texts: Iterable[str]) -> None:
        """Weigh more dates."""
        for text in set(texts) - self._texts.keys():
            readings = date_readings(text)
            if isinstance(readings, dt.date) and _POINTS.fullmatch(text):
                self.has_points = True
            if isinstance(readings, dict) and readings:
                self._texts[text] = readings
                for order, date in readings.items():
                    self._fitting[order].append(date)

    @property
    def is_needed(self) -> bool:
        """Whether any date can be read in two ways that differ, or no order fits all of them."""
        if self._texts and not self.orders:
            return True
        return any(len(set(readings.values())) > 1 for readings in self._texts.values())

    @property
    def orders(self) -> list[Order]:
        """The orders under which every date can be read, absurd spans left out."""
        fitting = [order for order in _ORDERS if len(self._fitting[order]) == len(self._texts)]
        spans = {order: _span(self._fitting[order]) for order in fitting}
        narrow = min(spans.values(), default=0) <= _SPAN_TOO_WIDE
        return [order for order in fitting if not narrow or spans[order] <= _SPAN_TOO_WIDE]

    def question(self, column: str) -> QuestionError:
        """Ask for the order, showing two dates each way."""
        shown = sorted(self._texts, key=lambda text: -len(set(self._texts[text].values())))[:2]
        orders = self.orders or [order for order in _ORDERS if self._fitting[order]]
        choices = tuple(
            Choice(
                value=order,
                meaning="; ".join(
                    f"{text} is {_shown(self._texts[text].get(order))}" for text in shown
                ),
            )
            for order in orders
        )
        return QuestionError(
            "date-order-undecided",
            f"The dates in the column “{column}” can be read in {len(choices)} ways, "
            "and the file does not say which one is meant.",
            "Say whether the day, the month or the year comes first.",
            parameter="date_order",
            choices=choices,
            facts={"column": column, "values": shown},
        )


class DateColumn:
    """Reads one column's dates and keeps what it has read."""

    def __init__(self, header: str, order: Order | None, *, answered: bool = False) -> None:
        self.header = header
        self._order = order
        self._answered = answered
        self._seen: list[str] = []
        self.cache: dict[str, dt.date | Fault | None] = _Dates(self.read)

    def read(self, text: str) -> dt.date | Fault | None:
        """Read one date; an empty cell is None."""
        if not text.strip():
            return None
        readings = date_readings(text)
        if isinstance(readings, dt.date):
            return readings
        if readings is None:
            return Fault(
                "date-unreadable", f"“{text[:40]}” is no date.", "Correct it and send it again."
            )
        found = set(readings.values())
        if len(found) == 1 and (self._order is None or self._order in readings):
            return found.pop()
        if self._order in readings:
            return readings[self._order]
        if readings and self._order and not self._answered:
            evidence = OrderEvidence()
            evidence.add([text, *self._seen])
            raise evidence.question(self.header)
        return Fault(
            "date-impossible",
            f"There is no such day as “{text[:40]}”.",
            "Correct it and send the row again.",
        )

    def of_moment(self, cell: str) -> dt.date | Fault | None:
        """Read the date of a cell that may hold a time of day too."""
        if cell in self.cache:
            return self.cache[cell]
        value = self.cache[cell] = self.read(split_moment(cell.strip())[0])
        return value


class _Dates(dict[str, dt.date | Fault | None]):
    def __init__(self, read: Callable[[str], dt.date | Fault | None]) -> None:
        super().__init__()
        self._read = read

    def __missing__(self, text: str) -> dt.date | Fault | None:
        value: dt.date | Fault | None = self._read(text)
        self[text] = value
        return value


def _span(dates: Sequence[dt.date]) -> int:
    return (max(dates) - min(dates)).days if dates else 0


def _shown(date: dt.date | None) -> str:
    return f"{date.day} {date:%B %Y}" if date else "no date"
