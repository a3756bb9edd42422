"""Personal data at the door: columns that hold them are dropped, whatever they are called.

Recognised by the words of the heading and by what the cells hold: card numbers (ISO/IEC 7812-1,
the Luhn rule), e-mail addresses, telephone numbers, bank accounts (ISO 13616, modulus 97) and
streets.
"""

# ruff: noqa: PLR2004 - numbers of digits name themselves

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from stallkeep_importers.cells.dates import date_readings, split_moment
from stallkeep_importers.cells.money import written
from stallkeep_importers.words import heading_words

_EMAIL = re.compile(r"[^\s@,;<>]@[^\s@,;<>.]{1,63}(?:\.[^\s@,;<>.]{1,63}){0,5}\.[^\W\d_]{2,}")
_CARD = re.compile(r"(?<![0-9])[2-6][0-9]{3}(?:[ -]?[0-9]{2,6}){2,4}(?![0-9])")
_MASKED_CARD = re.compile(r"(?:[*•xX·]{2,}[ -]?){1,4}[0-9]{2,4}|[0-9]{4,6}[*•xX]{4,}[0-9]{2,4}")
_PHONE = re.compile(
    r"(?:\+|00)[1-9][0-9]{0,2}[ ()/.-]*(?:[0-9][ ()/.-]*){6,12}|0[0-9]{2,4}[ /-][0-9 -]{5,10}"
)
_IBAN = re.compile(r"[A-Z]{2}[0-9]{2}(?: ?[A-Z0-9]){11,30}")
_STREET = re.compile(
    r"""
    \b[0-9]{1,5}[a-z]?,?\s(?:[^\W\d_]+\s){0,3}
        (?:street|st|road|rd|lane|avenue|ave|drive|close|way)\b
    | \b[^\W\d_]+(?:strasse|straße|str\.|weg|gasse|platz|allee|straat|laan|gatan|vägen|vej|gade)
        \s?[0-9]{1,4}
    | \b(?:rue|avenue|via|viale|piazza|calle|rua|ulica|ul\.)\s[^\W\d_].*
    """,
    re.IGNORECASE | re.VERBOSE,
)


SHORTEST_CARD, LONGEST_CARD = 13, 48  # signs; the longest with blanks and a hidden middle
_NUMBERS = frozenset({"card", "bank", "phone", "birth"})
_LOOKED_AT = 300


def passes_luhn(digits: str) -> bool:
    """Check a number by the Luhn rule (ISO/IEC 7812-1, annex B)."""
    total = 0
    for place, digit in enumerate(reversed(digits)):
        doubled = int(digit) * (1 + place % 2)
        total += doubled - 9 * (doubled > 9)
    return total % 10 == 0


def is_card_number(cell: str) -> bool:
    """Say whether a cell is a payment card's number, whole or with its middle hidden."""
    text = cell.strip()
    if len(text) > LONGEST_CARD:  # a longer one could keep the patterns busy for seconds
        return False
    if _MASKED_CARD.fullmatch(text):
        return True
    if not _CARD.fullmatch(text):
        return False
    digits = re.sub("[^0-9]", "", text)
    return 13 <= len(digits) <= 19 and passes_luhn(digits)


def is_bank_account(cell: str) -> bool:
    """Say whether a cell is an IBAN with right check digits (ISO 13616)."""
    text = cell.strip().replace(" ", "")
    if not _IBAN.fullmatch(text):
        return False
    return int("".join(str(int(sign, 36)) for sign in text[4:] + text[:4])) % 97 == 1


def kind_by_heading(text: str, cells: Sequence[str]) -> str | None:
    """Name the kind of personal data a plain heading announces, or None.

    Args:
        text: The heading in plain form. A whole phrase we know is believed; of another heading
            any phrase within it ("kontakt e mail", "name des kunden").
        cells: Some cells below it; where most are dates or amounts ("amount paid by buyer") a
            phrase within is not believed.
    """
    words = heading_words()
    if text in words:
        return _personal_kind(text)
    tokens = text.split()
    phrases = [
        " ".join(tokens[start:stop])
        for length in range(len(tokens) - 1, 0, -1)
        for start, stop in ((at, at + length) for at in range(len(tokens) - length + 1))
    ]
    kind = next(filter(None, map(_personal_kind, phrases)), None)
    if kind is None or kind in _NUMBERS:
        return kind
    filled = [cell for cell in cells if cell.strip()][:100]
    typed = sum(map(_is_typed, filled))
    return None if filled and typed * 2 > len(filled) else kind


def _personal_kind(phrase: str) -> str | None:
    fields = [sense.field for sense in heading_words().get(phrase, ())]
    personal = [field for field in fields if field.startswith("personal:")]
    return personal[0].removeprefix("personal:") if personal else None


def _is_typed(cell: str) -> bool:
    return written(cell) is not None or date_readings(split_moment(cell)[0]) is not None


def kind_by_cells(cells: Sequence[str], *, is_id: bool = False) -> str | None:
    """Name the kind of personal data a column's cells hold, or None.

    Args:
        cells: Some cells of the column.
        is_id: Whether the heading says that these are ids, whose digits may pass by chance.
    """
    filled = list(dict.fromkeys(cell.strip()[:_LOOKED_AT] for cell in cells if cell.strip()))[:200]
    for kind, test, share, fewest in _TESTS:
        if is_id and fewest is None:
            continue
        if (
            filled
            and len(filled) >= (fewest if is_id and fewest else 1)
            and _share(filled, test) >= share
        ):
            return kind
    return None


def blanked(cells: Sequence[str], personal: frozenset[int], *, in_place: bool) -> tuple[str, ...]:
    """Give a record's cells with personal ones emptied.

    Args:
        cells: As they stand.
        personal: Places of personal columns.
        in_place: Whether the record has the table's columns. Where it has not and the table has
            personal columns, only what is plainly a date, a number or a short code is kept.
    """
    if in_place:
        return tuple(
            "" if place in personal else _without_secrets(cell) for place, cell in enumerate(cells)
        )
    if not personal:
        return tuple(map(_without_secrets, cells))
    return tuple(cell if _is_harmless(cell) else "" for cell in cells)


def without_card_numbers(text: str) -> str:
    """Hide the digits of any card number within a text."""
    return _CARD.sub(_hidden, text) if len(text) >= SHORTEST_CARD else text


def _hidden(match: re.Match[str]) -> str:
    return re.sub("[0-9]", "•", match[0]) if is_card_number(match[0]) else match[0]


def _without_secrets(cell: str) -> str:
    return "" if _EMAIL.search(cell) else without_card_numbers(cell)


def _is_harmless(cell: str) -> bool:
    return not is_card_number(cell) and not _is_phone(cell) and _is_typed(cell)


def _is_phone(cell: str) -> bool:
    return _PHONE.fullmatch(cell.strip()) is not None


def _share(cells: Sequence[str], test: Callable[[str], bool]) -> float:
    return sum(map(test, cells)) / max(1, len(cells))


# kind, test, share of cells that must pass, and how many there must be where the heading says
# that they are ids, whose digits may pass by chance (None: ids are never taken for it)
_TESTS: tuple[tuple[str, Callable[[str], bool], float, int | None], ...] = (
    ("card", is_card_number, 0.9, 5),
    ("email", lambda cell: _EMAIL.search(cell) is not None, 0.3, 1),
    ("bank", is_bank_account, 0.3, 1),
    ("phone", _is_phone, 0.9, None),
    ("address", lambda cell: _STREET.search(cell) is not None, 0.5, None),
)
