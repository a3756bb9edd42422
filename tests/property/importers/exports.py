"""Card exports as every language writes them, drawn at random, with the truth beside each.

Every style is drawn on its own, so that all meet all. What a file looks like is kept by name, to
count how often each style came, and how often a file was asked about that says it all itself.
"""

# ruff: noqa: RUF001 - odd signs are the subject

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Sequence
from random import Random
from typing import NamedTuple
from zoneinfo import ZoneInfo

from babel import Locale
from babel.dates import format_date, format_time
from tests.unit.importers.test_languages import PAYMENTS, SALES

from stallkeep_importers.currencies import minor_units
from stallkeep_importers.words import languages

ZONES = ("Europe/Berlin", "America/New_York", "Asia/Tokyo", "UTC")
CURRENCIES = {
    "EUR": ("€", "EUR"),
    "GBP": ("£", "GBP"),
    "USD": ("$", "USD"),
    "SEK": ("kr", "SEK"),
    "PLN": ("zł", "PLN"),
    "CZK": ("Kč", "CZK"),
    "JPY": ("¥", "JPY"),
    "KWD": ("KWD", "KWD"),
}
CODECS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "code page")
MARKS = (".", ",")
GROUPS = ("none", "other mark", "'", "’", " ", "\u00a0", "\u202f")
SIGNS = ("- before", "- behind", "− before", "brackets", "CR/DR", "- inside")
MONEY = ("bare", "sign before", "sign behind", "code before", "code behind")
WHOLES = ("all decimals", "whole numbers bare")
DAYS = (
    *("%Y-%m-%d", "%Y/%m/%d", "%Y%m%d", "%d.%m.%Y", "%d/%m/%Y", "%d-%m-%Y", "%m/%d/%Y"),
    *("%d.%m.%y", "%d/%m/%y", "%m/%d/%y", "d MMMM y", "d MMM y", "y年M月d日"),
)
TIMES = ("none", "HH:MM", "HH:MM:SS", "own column", "12 hours", "+offset", "Z")
SHAPES = ("plain", "lines above", "totals below", "blank lines", "heading again")
QUOTINGS = (csv.QUOTE_MINIMAL, csv.QUOTE_ALL)


class Row(NamedTuple):
    """One payment as it really was; *minor* below nought is money given back."""

    at: dt.datetime
    minor: int
    fee: int
    note: str
    is_paid: bool
    postage: int = 0


class Export(NamedTuple):
    """One file, what it truly holds, and how it is written."""

    data: bytes
    rows: list[Row]
    options: dict[str, object]
    style: dict[str, str]
    dates: list[str]
    amounts: list[str]


def draw_export(dice: Random) -> Export:
    """Write random payments of a card reader in random styles."""
    style = _draw_style(dice)
    rows = [_row(dice, style) for _ in range(dice.randint(1, 15))]
    return _export(rows, style, _text(rows, style, dice), dice)


def draw_sales(dice: Random) -> Export:
    """Write random sales of a channel in random styles; postage comes on top of the price."""
    style = _draw_style(dice)
    if style["shape"] == "totals below":
        style["shape"] = "plain"
    rows = [_sale(dice, style) for _ in range(dice.randint(1, 15))]
    return _export(rows, style, _sales_text(rows, style, dice), dice)


def _draw_style(dice: Random) -> dict[str, str]:
    code = dice.choice(sorted(PAYMENTS))
    return {
        "language": code,
        "currency": dice.choice(sorted(CURRENCIES)),
        "zone": dice.choice(ZONES),
        "delimiter": dice.choice(",;\t|"),
        "codec": dice.choice(CODECS),
        "mark": dice.choice(MARKS),
        "group": dice.choice(GROUPS),
        "sign": dice.choice(SIGNS),
        "money": dice.choice(MONEY),
        "wholes": dice.choice(WHOLES),
        "day": dice.choice([each for each in DAYS if _can_write(code, each)]),
        "time": dice.choice(TIMES),
        "shape": dice.choice(SHAPES),
        "end": dice.choice(["\n", "\r\n", "\r"]),
    }


def _export(
    rows: list[Row], style: dict[str, str], written: tuple[str, list[str], list[str]], dice: Random
) -> Export:
    text, dates, amounts = written
    pages = languages()[style["language"]].code_pages
    codec = dice.choice(pages) if style["codec"] == "code page" else style["codec"]
    try:
        data = text.encode(codec)
    except UnicodeEncodeError:
        style["codec"] = "utf-8"
        data = text.encode()
    options: dict[str, object] = {
        "currency": style["currency"],
        "time_zone": style["zone"],
        "languages": (style["language"], "en"),
    }
    return Export(data, rows, options, style, dates, amounts)


def _can_write(language: str, day: str) -> bool:
    """Say whether people write days so: kanji in Japanese alone, months by name elsewhere."""
    return "%" in day or ("年" in day) == (language == "ja")


def _row(dice: Random, style: dict[str, str]) -> Row:
    zone = ZoneInfo(style["zone"])
    day = dt.datetime(2025, 1, 1, tzinfo=dt.UTC) + dt.timedelta(days=dice.randrange(360))
    past = dt.timedelta(hours=dice.randint(5, 20), minutes=dice.randrange(60))
    at = (day + past).astimezone(zone)
    digits = minor_units()[style["currency"]]
    whole = dice.choice((dice.randint(1, 60), dice.randint(61, 999), dice.randint(1000, 40_000)))
    part = dice.randrange(10**digits) if dice.random() < 0.7 else 0
    minor = whole * 10**digits + part
    note = dice.choice(("cup", "a, b; c", 'so-called "jug"', "two\nlines", "", "Total eclipse"))
    return Row(
        at,
        -minor if dice.random() < 0.15 else minor,
        dice.randint(0, max(1, minor // 20)),
        note.replace("\n", " ") if style["end"] == "\r" else note,
        dice.random() < 0.9,
    )


def _sale(dice: Random, style: dict[str, str]) -> Row:
    row = _row(dice, style)
    postage = dice.choice((0, 0, 350, 495)) if minor_units()[style["currency"]] else 0
    title = row.note or "hat"
    return row._replace(minor=abs(row.minor) + postage, note=title, is_paid=True, postage=postage)


def written_money(minor: int, style: dict[str, str], *, plain: bool = False) -> str:
    """Write minor units; *plain* leaves out currency and the odder signs, as for a fee."""
    currency, mark = style["currency"], style["mark"]
    digits = minor_units()[currency]
    other = "," if mark == "." else "."
    group = {"none": "", "other mark": other}.get(style["group"], style["group"])
    whole, part = divmod(abs(minor), 10**digits)
    number = f"{whole:,}".replace(",", group)
    if digits and (part or style["wholes"] == "all decimals"):
        number += f"{mark}{part:0{digits}}"
    sign = "- before" if plain else style["sign"]
    symbol, code = CURRENCIES[currency]
    beside = {"sign before": symbol, "code before": code + " "}.get(style["money"], "")
    behind = {"sign behind": " " + symbol, "code behind": " " + code}.get(style["money"], "")
    if plain:
        beside = behind = ""
    if minor >= 0:
        return f"{beside}{number}{behind}" + (" CR" if sign == "CR/DR" else "")
    return {
        "- before": f"-{beside}{number}{behind}",
        "- behind": f"{beside}{number}-{behind}",
        "− before": f"−{beside}{number}{behind}",
        "brackets": f"({beside}{number}{behind})",
        "CR/DR": f"{beside}{number}{behind} DR",
        "- inside": f"{beside}-{number}{behind}",
    }[sign]


def _when(row: Row, style: dict[str, str]) -> tuple[str, str]:
    """Give the cells of day and time; the second is empty unless it has a column."""
    at = row.at.astimezone(dt.UTC) if style["time"] == "Z" else row.at
    locale, pattern = Locale(style["language"]), style["day"]
    is_named = "%" not in pattern
    day = format_date(at, pattern, locale=locale) if is_named else f"{at:{pattern}}"
    match style["time"]:
        case "none":
            return day, ""
        case "own column":
            return day, f"{at:%H:%M}"
        case "HH:MM" | "HH:MM:SS":
            return f"{day} {at.strftime('%H:%M' if style['time'] == 'HH:MM' else '%H:%M:%S')}", ""
        case "12 hours":
            return f"{day} {format_time(at, 'h:mm a', locale=Locale('en'))}", ""
        case "Z":
            return f"{day} {at:%H:%M}Z", ""
    offset = f"{at:%z}"
    return f"{day} {at:%H:%M}{offset[:3]}:{offset[3:]}", ""


def _text(
    rows: Sequence[Row], style: dict[str, str], dice: Random
) -> tuple[str, list[str], list[str]]:
    date, amount, fee, _, state, note, paid, failed = PAYMENTS[style["language"]]
    time = languages()[style["language"]].columns["time"][0]
    own_time = style["time"] == "own column"
    header = [date, *([time] if own_time else []), amount, fee, note, state]
    out = io.StringIO(newline="")
    if style["shape"] == "lines above":
        out.write(f"Report{style['end']}2025{style['end']}")
    writer = csv.writer(
        out,
        delimiter=style["delimiter"],
        quoting=dice.choice(QUOTINGS),  # type: ignore[arg-type]
        lineterminator=style["end"],
    )
    writer.writerow(header)
    dates, amounts = [], []
    for number, row in enumerate(rows):
        day, hour = _when(row, style)
        dates.append(day)
        money, cost = written_money(row.minor, style), written_money(row.fee, style, plain=True)
        amounts += [money, cost]
        cells = [day, *([hour] if own_time else []), money, cost, row.note]
        writer.writerow([*cells, paid if row.is_paid else failed])
        if style["shape"] == "blank lines" and number % 3 == 0:
            out.write(style["end"])
        if style["shape"] == "heading again" and number % 6 == 5:
            writer.writerow(header)
    if style["shape"] == "totals below":
        totals = [sum(row.minor for row in rows), sum(row.fee for row in rows)]
        word = languages()[style["language"]].totals["words"][0]
        cells = [written_money(each, style) for each in totals]
        writer.writerow([word, *([""] if own_time else []), *cells, "", ""])
    return out.getvalue(), dates, amounts


def _sales_text(
    rows: Sequence[Row], style: dict[str, str], dice: Random
) -> tuple[str, list[str], list[str]]:
    header = list(SALES[style["language"]])
    time = languages()[style["language"]].columns["time"][0]
    own_time = style["time"] == "own column"
    header[1:1] = [time] if own_time else []
    out = io.StringIO(newline="")
    if style["shape"] == "lines above":
        out.write(f"Report{style['end']}2025{style['end']}")
    writer = csv.writer(
        out,
        delimiter=style["delimiter"],
        quoting=dice.choice(QUOTINGS),  # type: ignore[arg-type]
        lineterminator=style["end"],
    )
    writer.writerow(header)
    dates, amounts = [], []
    for number, row in enumerate(rows):
        day, hour = _when(row, style)
        money = [written_money(each, style) for each in (row.minor - row.postage, row.postage)]
        money.append(written_money(row.fee, style, plain=True))
        dates.append(day)
        amounts += money
        writer.writerow([day, *([hour] if own_time else []), row.note, *money])
        if style["shape"] == "blank lines" and number % 3 == 0:
            out.write(style["end"])
        if style["shape"] == "heading again" and number % 6 == 5:
            writer.writerow(header)
    return out.getvalue(), dates, amounts
