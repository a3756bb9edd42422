"""Text → dates, with the order of day and month decided for the column, never for a cell."""

# ruff: noqa: PLR2004, RUF001 - numbers of digits name themselves; the odd signs are the subject

from __future__ import annotations

import datetime as dt
import json
import re
import unicodedata
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, Literal, TypeAlias

from stallkeep_importers.cells.latin import latin

Order: TypeAlias = Literal["ymd", "dmy", "mdy"]

FIRST_YEAR, LAST_YEAR = 1990, 2100
ORDERS: tuple[Order, ...] = ("dmy", "mdy", "ymd")
_NUMERIC = re.compile(r"([0-9]{1,4})([-./ ])\s?([0-9]{1,2})\2\s?([0-9]{1,4})\.?")
POINTS = re.compile(r"[0-9]{1,2}\.\s?[0-9]{1,2}\.\s?[0-9]{2,4}\.?")
_COMPACT = re.compile(r"((?:19|20)[0-9]{2})([0-9]{2})([0-9]{2})")
_ERA = re.compile("(令和|平成)\\s?([0-9]{1,2}|元)年")
_YEAR_BEFORE = {"令和": 2018, "平成": 1988}  # the year before the era's first
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


def split_moment(text: str) -> tuple[str, str]:
    """Part a cell into the text of its date and the text of its time of day, each perhaps empty."""
    text = _common(text)
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
    text = _common(text).strip()
    if len(text) > 40:
        return None
    match = _COMPACT.fullmatch(text) or _KANJI.fullmatch(text)
    if match:
        year, month, day = match.groups()
        return _date(int(year), int(month), int(day)) or {}
    if match := _NUMERIC.fullmatch(text):
        return _numeric(match[1], match[2], match[3], match[4])
    return _named(text)


def _common(text: str) -> str:
    """Bring digits to 0 to 9, and years of Japanese eras to those of the common one."""
    if text.isascii():
        return text
    return _ERA.sub(lambda match: f"{_year_of(match[1], match[2])}年", latin(text))


def _year_of(era: str, year: str) -> int:
    return _YEAR_BEFORE[era] + (1 if year == "元" else int(year))


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
    for order in ORDERS:
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
