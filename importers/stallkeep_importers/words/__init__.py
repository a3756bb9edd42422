"""Trade words as data: one file per language, in plain form."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Container, Mapping
from functools import cache, lru_cache
from importlib.resources import files
from itertools import chain

import msgspec

_PLAIN_SEPARATOR = " "
_HUMP = re.compile(r"(?<=[a-z])(?=[A-Z])")
_SHORT_NUMBER = re.compile(
    r"(?:n o|no|nr|num|nro|n|c) (?:(?:de|di|da|do|del|della) )?(.+)|(.+) (?:no|nr|num|n)|(.{3,})nr"
)
_LONG_NUMBER = (
    *("{} number", "numero {}", "numero de {}", "numero di {}", "numero da {}", "numero do {}"),
    *("{}nummer", "{}snummer", "{} nummer", "numer {}", "cislo {}"),
)


class Language(msgspec.Struct, frozen=True):
    """The words of one language; every mapping goes from a meaning to its phrases.

    Attributes:
        code_pages: Codecs its older programs write, most likely first.
        columns: Canonical field to headings.
        personal: Kind of personal data to headings.
        kinds: Kind of transaction to cell words.
        cash: Kind of a cash tally's line that is no sale to cell words.
        states: State of a transaction to cell words.
        listing_states: State of a listing to cell words.
        methods: Method of payment to cell words.
        costs: Cost category to cell words.
        totals: ``words``: what a totals line begins with; ``balances``: likewise of a balance.
        qualifiers: ``including`` and ``excluding``: words between an amount and its parts.
        sides: ``in`` and ``out``: what a column beside the amount says instead of a sign.
        answers: ``yes`` and ``no``.
        yes_says: What a column of yes and no under such a word tells of a row: that it was
            ``paid``, that the piece was ``sent``, or that the listing is ``live``.
    """

    code_pages: tuple[str, ...]
    columns: dict[str, tuple[str, ...]]
    personal: dict[str, tuple[str, ...]]
    kinds: dict[str, tuple[str, ...]]
    cash: dict[str, tuple[str, ...]]
    states: dict[str, tuple[str, ...]]
    listing_states: dict[str, tuple[str, ...]]
    methods: dict[str, tuple[str, ...]]
    costs: dict[str, tuple[str, ...]]
    totals: dict[str, tuple[str, ...]]
    qualifiers: dict[str, tuple[str, ...]]
    sides: dict[str, tuple[str, ...]]
    answers: dict[str, tuple[str, ...]]
    yes_says: dict[str, tuple[str, ...]]


@cache
def languages() -> Mapping[str, Language]:
    """All languages there is a word file for, by ISO 639-1 code, in alphabetical order."""
    found = sorted(files(__name__).iterdir(), key=lambda entry: entry.name)
    return {
        entry.name.removesuffix(".toml"): msgspec.convert(
            tomllib.loads(entry.read_text("utf-8")), Language
        )
        for entry in found
        if entry.name.endswith(".toml")
    }


@lru_cache(maxsize=1 << 16)
def plain(text: str) -> str:
    """Bring a heading or a word to the form of the word files.

    Lower case, no accents, everything that is no letter or digit one space.
    """
    bare = unicodedata.normalize("NFKD", unicodedata.normalize("NFKC", text[:200]).casefold())
    kept = (
        letter if letter.isalnum() else _PLAIN_SEPARATOR
        for letter in bare
        if not unicodedata.combining(letter)
    )
    return _PLAIN_SEPARATOR.join("".join(kept).split())


def plain_among(text: str, known: Container[str]) -> str:
    """Bring a text to plain form, "transactionDate" parted only where it is not known whole."""
    whole = plain(text)
    if whole in known:
        return whole
    parted = plain(_HUMP.sub(_PLAIN_SEPARATOR, text[:200]))
    return parted if parted in known else whole


def plain_heading(text: str, known: Container[str]) -> str:
    """Bring a heading to plain form, "N° facture" and "Bestellnr." written out where known so."""
    found = plain_among(text, known)
    match = None if found in known else _SHORT_NUMBER.fullmatch(found)
    if not match:
        return found
    written_out = (form.format(match[1] or match[2] or match[3]) for form in _LONG_NUMBER)
    return next((form for form in written_out if form in known), found)


@cache
def cell_words(table: str) -> Mapping[str, str]:
    """Plain cell word to its meaning, all languages together.

    Args:
        table: ``kinds``, ``cash``, ``states``, ``listing_states``, ``methods``, ``costs``,
            ``totals``, ``qualifiers``, ``sides``, ``answers`` or ``yes_says``.
    """
    merged: dict[str, str] = {}
    for language in languages().values():
        meanings: dict[str, tuple[str, ...]] = getattr(language, table)
        for meaning, words in meanings.items():
            for word in words:
                merged.setdefault(plain(word), meaning)
    return merged


def says_total(cell: str) -> bool:
    """Say whether a cell begins like the label of a totals line."""
    words = cell_words("totals")
    tokens = plain(cell).split()
    return any(" ".join(tokens[:length]) in words for length in range(1, min(4, len(tokens)) + 1))


def names_payments(heading: str) -> bool:
    """Say whether a heading such as "Payment ID" or "Zahlungsnummer" speaks of payments."""
    words = (language.kinds["payment"][:2] for language in languages().values())
    named = tuple(map(plain, chain.from_iterable(words)))
    return any(word.startswith(named) for word in plain(heading).split())


class Sense(msgspec.Struct, frozen=True):
    """One meaning of a heading: the field, the language, and its place in that list."""

    field: str
    language: str
    rank: int


@cache
def heading_words() -> Mapping[str, tuple[Sense, ...]]:
    """Plain heading to what it may mean; kinds of personal data are named ``personal:kind``."""
    merged: dict[str, list[Sense]] = {}
    for code, language in languages().items():
        personal = ((f"personal:{kind}", words) for kind, words in language.personal.items())
        for field, words in chain(language.columns.items(), personal):
            for place, word in enumerate(words):
                merged.setdefault(plain(word), []).append(Sense(field, code, place))
    return {word: tuple(senses) for word, senses in merged.items()}
