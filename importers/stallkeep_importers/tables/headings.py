"""Find the header row, and take each heading apart: words, currency, minor units."""

# ruff: noqa: RUF001 - the odd signs are the subject

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Sequence

import msgspec

from stallkeep_importers.cells.latin import bare
from stallkeep_importers.cells.times import fixed_zone
from stallkeep_importers.currencies import currencies_of
from stallkeep_importers.tables.dialects import RATE, known_headings, looks_typed
from stallkeep_importers.words import cell_words, heading_words, plain, plain_heading

HEADER_WITHIN = 60
_CODE_CHARS = 3
_BRACKETS = re.compile(r"[\(\[（]([^\)\]）]*)[\)\]）]")
_MINOR_WORDS = frozenset(
    {
        *("cent", "cents", "ct", "cts", "pence", "penny", "minor", "minor unit", "minor units"),
        *("centimes", "centimos", "centesimi", "centavos", "grosze", "halere", "ore"),
        *("in cents", "in cent", "in ct", "in minor units"),
    }
)


_MINOR_ENDINGS = (
    *(" in cents", " in cent", " cents", " in minor units", " minor units", " minor"),
)
_NUMBER_SIGN = re.compile(r"(\w\s?)[#№](?=\W|$)")
_RATE = re.compile(RATE)
_IANA = re.compile("[A-Z][A-Za-z]+/[A-Z][A-Za-z_]+")


class Heading(msgspec.Struct, frozen=True):
    """One column's heading.

    Attributes:
        text: As it stands.
        plain: Its words in plain form, without units; "" for an empty heading.
        currency: ISO 4217 code or sign it names, "" without.
        in_minor: Whether it says that amounts are in minor units (cents).
        zone: Offset or IANA name of its times, "" without.
        rate: Percentage it names, as of the tax below it, "" without.
    """

    text: str
    plain: str
    currency: str = ""
    in_minor: bool = False
    zone: str = ""
    rate: str = ""


def heading(cell: str) -> Heading:
    """Take a heading apart.

    A unit in brackets (currency, zone, cents) is taken out; other words in brackets count only
    where they qualify the amount ("Betrag (netto)") or make a heading we know.
    """
    text = bare(cell)
    words, units = _units(_NUMBER_SIGN.sub(r"\1 number ", text))
    known = heading_words()
    notes = [unit for unit in units if not _is_unit(unit)]
    whole = plain_heading(words, known)
    full = plain_heading(" ".join([words, *notes]), known)
    qualifies = not cell_words("qualifiers").keys().isdisjoint(plain(" ".join(notes)).split())
    if full in known or qualifies or not whole:
        whole = full or plain_heading(text, known)
    zone = next((unit for unit in units if fixed_zone(unit) or _IANA.fullmatch(unit)), "")
    if whole.endswith((" utc", " gmt")):
        whole, zone = whole[:-4].removesuffix(" in"), "UTC"
    rate = _RATE.search(text)
    if rate and (rest := plain_heading(_RATE.sub(" ", words), known)) in known:
        whole = rest  # "MwSt. 19 %" is the tax at that rate
    elif "%" in text:
        whole, rate = "percent", None
    ending = next((each for each in _MINOR_ENDINGS if whole.endswith(each)), "")
    return Heading(
        text=text,
        plain=whole.removesuffix(ending),
        currency=next((unit for unit in units if currencies_of(unit)), ""),
        in_minor=bool(ending) or any(plain(unit) in _MINOR_WORDS for unit in units),
        zone=zone,
        rate=rate[0] if rate else "",
    )


def _units(text: str) -> tuple[str, list[str]]:
    """Part a heading from what stands in brackets, and from a currency's code at its end."""
    units = [unit.strip() for unit in _BRACKETS.findall(text) if unit.strip()]
    words = _BRACKETS.sub(" ", text).split()
    if len(words) > 1 and len(words[-1]) <= _CODE_CHARS and currencies_of(words[-1]):
        units.append(words.pop())
        if words[-1].lower() in ("in", "en", "em", "w", "v", "i"):
            words.pop()
    return " ".join(words), units


def _is_unit(text: str) -> bool:
    return bool(
        currencies_of(text)
        or fixed_zone(text)
        or _IANA.fullmatch(text)
        or plain(text) in _MINOR_WORDS
    )


def find_header(rows: Sequence[Sequence[str]]) -> int | None:
    """Find the header among the first rows of a table.

    Returns:
        Its place in *rows*; None where no row can be one.
    """
    counts = Counter(len(row) for row in rows if any(row))
    if not counts:
        return None
    width = max(counts, key=lambda found: (counts[found] * (found > 1), found))
    scored = [
        (_score(row, width), -place)
        for place, row in enumerate(rows[:HEADER_WITHIN])
        if any(cell.strip() for cell in row)
    ]
    best, place = max(scored, default=(0.0, 0))
    return -place if best >= 1 else _untyped_above_typed(rows, width)


def _score(row: Sequence[str], width: int) -> float:
    filled = [cell for cell in row if cell.strip()]
    if any(looks_typed(cell) for cell in filled):
        return 0.0
    known = known_headings(row)
    fits = 1.0 if len(row) == width else 0.6
    return known * fits * (len(set(filled)) / len(filled))


def _untyped_above_typed(rows: Sequence[Sequence[str]], width: int) -> int | None:
    """Give the first full row that has no date or number, when the next full one has."""
    full = [place for place, row in enumerate(rows[:HEADER_WITHIN]) if len(row) == width]
    for place, following in itertools.pairwise(full):
        first, second = rows[place], rows[following]
        if not any(looks_typed(cell) for cell in first if cell.strip()):
            return place if any(looks_typed(cell) for cell in second) else None
        return None
    return None
