"""Reading what was typed beside a payment: codes, title words, chatter."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from stallkeep.domain.tag_codes import LENGTH, normalise

_WORD = re.compile(r"[^\W_]+", re.UNICODE)
_CODE_PART = re.compile(r"[0-9A-Za-z]+")
LONGEST_JOIN = 3


def words(text: str | None) -> list[str]:
    """Split into lower-case words of letters and digits, in order."""
    return [word.casefold() for word in _WORD.findall(text or "")]


def known_codes_in(text: str | None, codes: Mapping[str, str]) -> list[str]:
    """Find the pieces whose code stands in *text*.

    Args:
        text: As typed; blanks and hyphens inside a code are allowed, and words run into it.
        codes: Normalised tag code to item id.

    Returns:
        Item ids in the order they are named, each once.
    """
    parts = _CODE_PART.findall(text or "")
    found: dict[str, None] = {}
    start = 0
    while start < len(parts):
        length = _code_length_at(parts, start, codes)
        if length:
            found[codes[normalise("".join(parts[start : start + length]))]] = None
        else:
            found |= dict.fromkeys(_codes_inside(parts[start], codes))
        start += max(length, 1)
    return list(found)


def _codes_inside(part: str, codes: Mapping[str, str]) -> Iterator[str]:
    """Codes that stand in a longer word; as typed they hold a letter and a digit."""
    for start in range(len(part) - LENGTH + 1):
        typed = part[start : start + LENGTH]
        mixed = any(c.isdigit() for c in typed) and any(c.isalpha() for c in typed)
        if mixed and normalise(typed) in codes:
            yield codes[normalise(typed)]


def _code_length_at(parts: Sequence[str], start: int, codes: Mapping[str, str]) -> int:
    for length in range(min(LONGEST_JOIN, len(parts) - start), 0, -1):
        if normalise("".join(parts[start : start + length])) in codes:
            return length
    return 0
