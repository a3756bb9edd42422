"""Columns of values → the text that COPY reads, quickly enough for millions of rows."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Final

import msgspec

NULL: Final = "\\N"

_SPECIAL = re.compile(r"[\\\t\n\r]")
_ESCAPES = str.maketrans({"\\": r"\\", "\t": r"\t", "\n": r"\n", "\r": r"\r"})


def copy_text(columns: Mapping[str, Sequence[str]]) -> bytes:
    """Join columns of cells into rows.

    Args:
        columns: Cells as the functions below make them, all columns equally long.

    Raises:
        UnicodeEncodeError: A text holds what is no character.

    Source:
        PostgreSQL manual, COPY, text format.
    """
    rows = map("\t".join, zip(*columns.values(), strict=True))
    return ("\n".join(rows) + "\n").encode()


def texts(values: Sequence[str | None]) -> Sequence[str]:
    """Write texts, escaping what would end a cell."""
    if _SPECIAL.search("".join(filter(None, values))):
        return [NULL if value is None else value.translate(_ESCAPES) for value in values]
    return [NULL if value is None else value for value in values]


def plain_values(values: Sequence[object]) -> Sequence[str]:
    """Write integers, dates, moments with their offset: what needs no escaping."""
    if None in values:
        return [NULL if value is None else str(value) for value in values]
    return list(map(str, values))


def recurring_values(values: Sequence[object]) -> Sequence[str]:
    """Likewise, each different value once: a file of a million rows has few days."""
    written = {value: NULL if value is None else str(value) for value in set(values)}
    return [written[value] for value in values]


def text_arrays(values: Sequence[Sequence[str] | None]) -> Sequence[str]:
    """Write arrays of texts."""
    return texts([None if value is None else _array(value) for value in values])


def json_values(values: Sequence[object]) -> Sequence[str]:
    """Write whatever JSON can say; None is null and not JSON's null."""
    encode = msgspec.json.encode
    return texts([None if value is None else encode(value).decode() for value in values])


def _array(value: Sequence[str]) -> str:
    quoted = (item.replace("\\", r"\\").replace('"', r"\"") for item in value)
    return "{" + ",".join(f'"{item}"' for item in quoted) + "}"
