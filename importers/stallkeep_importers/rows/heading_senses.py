"""What a heading may mean, in the language most headings of the file are in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import msgspec

from stallkeep_importers.contract import Options
from stallkeep_importers.tables.headings import Heading
from stallkeep_importers.words import Sense, cell_words, heading_words

SURE = 0.97
CUT = 0.9
_PARTS = frozenset({"tip", "tax", "surcharge", "postage", "fee"})
_SHORTEST_ENDING = 5


def tongues_of(headings: Sequence[Heading], options: Options) -> list[str]:
    """Rank the languages by how many headings they know, the shop's own first among equals."""
    words = heading_words()
    known = Counter(
        language
        for found in headings
        for language in {sense.language for sense in words.get(found.plain, ())}
    )
    own = {code: len(options.languages) - n for n, code in enumerate(options.languages)}
    return sorted(known, key=lambda code: (-known[code], -own.get(code, 0), code))


def senses_of(text: str, tongues: Sequence[str]) -> list[tuple[Sense, float]]:
    """Give what a heading may mean: a whole phrase we know, else the longest one within."""
    words = heading_words()
    if text in words:
        return [(sense, SURE) for sense in _in_best_tongue(words[text], tongues)]
    tokens = text.split()
    qualified = _qualified(tokens, tongues)
    if qualified:
        return qualified
    for length in range(len(tokens) - 1, 0, -1):
        phrases = {" ".join(tokens[i : i + length]) for i in range(len(tokens) - length + 1)}
        known = [phrase for phrase in sorted(phrases) if phrase in words]
        if known:
            if len(known) > 1:
                return []
            share = 0.5 + 0.45 * length / len(tokens)
            return [(sense, share) for sense in _in_best_tongue(words[known[0]], tongues)]
    return []


def parts_named(text: str) -> set[str]:
    """Name the parts of an amount a heading speaks of; one that leaves parts out has none.

    Nor has one that speaks of the buyer: what the buyer pays to somebody else is no part.
    """
    whole = {sense.field for sense in heading_words().get(text, ())} & _PARTS
    if whole:
        return whole
    tokens = text.split()
    if not cell_words("qualifiers").keys().isdisjoint(tokens):
        return set()
    found = {field for token in tokens for field in _fields_of(token)}
    return set() if "personal:name" in found else found & _PARTS


def _fields_of(token: str) -> set[str]:
    """Give what one word may mean; a compound such as "Plattformgebühr" means what it ends in."""
    words = heading_words()
    if token in words:
        return {sense.field for sense in words[token]}
    endings = (token[start:] for start in range(1, len(token) - _SHORTEST_ENDING + 1))
    known = next((ending for ending in endings if ending in words), None)
    fields = {sense.field for sense in words.get(known or "", ())}
    return fields if fields == {"fee"} else set()


def _qualified(tokens: Sequence[str], tongues: Sequence[str]) -> list[tuple[Sense, float]]:
    """Read "amount without tip", "Preis inkl. Versand": a heading, then what it holds or not.

    An amount without something is a subtotal; a price with the postage is the whole.
    """
    words, qualifiers = heading_words(), cell_words("qualifiers")
    for place, token in enumerate(tokens):
        head = " ".join(tokens[:place])
        if token not in qualifiers or head not in words:
            continue
        holds = qualifiers[token] == "including"
        parts = {
            sense.field for word in tokens[place + 1 :] for sense in words.get(word, ())
        } & _PARTS
        return [
            (msgspec.structs.replace(sense, field=_field(sense.field, parts, holds=holds)), CUT)
            for sense in _in_best_tongue(words[head], tongues)
        ]
    return []


def _field(field: str, parts: set[str], *, holds: bool) -> str:
    if holds:
        return "total" if field == "price" and "postage" in parts else field
    if field in ("amount", "total", "cash") or (field == "price" and "postage" not in parts):
        return "subtotal"
    return field


def _in_best_tongue(senses: Sequence[Sense], tongues: Sequence[str]) -> list[Sense]:
    """Keep the meanings of the language most other headings are in."""
    for code in tongues:
        own = [sense for sense in senses if sense.language == code]
        if own:
            return own
    return list(senses)
