"""Digits and marks of other scripts in the form everything else here reads."""

# ruff: noqa: RUF001 - the odd signs are the subject

from __future__ import annotations

import unicodedata

# marks that only say which way text runs, and the mark at a file's beginning
INVISIBLE = "\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff\u200b"


class _Signs(dict[int, int | str | None]):
    """A table for ``str.translate`` that finds the digits of every script as it meets them."""

    def __missing__(self, code: int) -> int:
        digit = unicodedata.decimal(chr(code), None)
        self[code] = found = code if digit is None else ord(str(digit))
        return found


SIGNS = _Signs(str.maketrans("／：－．٫٬", "/:-..,", INVISIBLE))


def latin(text: str) -> str:
    """Write digits of any script as 0 to 9, wide separators as plain ones, drop invisible marks."""
    return text if text.isascii() else text.translate(SIGNS)


def bare(text: str) -> str:
    """Take blanks and invisible marks off both ends."""
    text = text.strip()
    return text if text.isascii() else text.strip(INVISIBLE).strip()
