"""What the lines above a table say about all of its rows: a currency, a time zone."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

import msgspec

from stallkeep_importers.currencies import minor_units
from stallkeep_importers.words import heading_words, plain

_CODE = re.compile(r"\b[A-Z]{3}\b")
_ZONE = re.compile(r"\b(?:UTC|GMT)(?:\s?[-+][0-9]{1,2}(?::?[0-9]{2})?)?|\b[A-Z][a-z]+/[A-Z][\w]+")
_LONGEST = 120
# words for times of day in the plural, as people write them in a remark; common practice
_TIMES = frozenset(
    {"time", "times", "zeit", "zeiten", "uhrzeiten", "heures", "horas", "ore", "orari", "tijden"}
    | {"tider", "czas", "godziny", "cas", "casy", "時刻"}
)


class Said(msgspec.Struct, frozen=True):
    """What was said above the table, "" for nothing.

    Attributes:
        currency: ISO 4217 code of its amounts.
        zone: Offset or IANA name of its times.
    """

    currency: str = ""
    zone: str = ""


def said_above(rows: Sequence[Sequence[str]]) -> Said:
    """Read the rows above a header.

    A code counts only beside a word for currency or amount, a zone only beside one for time, so
    that "printed 2025-06-01 06:00 UTC" says nothing about the payments.
    """
    currency = zone = ""
    for text in _remarks(rows):
        words = set(plain(text).split())
        if not currency and _speaks_of(words, {"currency", "amount"}):
            codes = [code for code in _CODE.findall(text) if code in minor_units()]
            currency = codes[0] if len(codes) == 1 else ""
        if not zone and (words & _TIMES or _speaks_of(words, {"zone"})):
            found = _ZONE.search(text)
            zone = found[0] if found else ""
    return Said(currency, zone)


def _remarks(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Yield each row as one text, label and value beside each other."""
    for row in rows:
        text = " ".join(cell.strip() for cell in row if cell.strip())
        if text and len(text) <= _LONGEST:
            yield text


def _speaks_of(words: set[str], fields: set[str]) -> bool:
    known = heading_words()
    singular = (
        words
        | {word.removesuffix("s") for word in words}
        | {word.removesuffix("e") for word in words}
    )
    return any(sense.field in fields for word in singular for sense in known.get(word, ()))
