"""Whether a column that is headed like an id can be the id of its rows.

A wrong id is worse than none: rows that share one would be taken for versions of each other, and
so would the rows of two files that both count from 1.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

_FEWEST = 3
_SHARE = 0.3
_TELLING = ("kind", "reference", "tag_code", "title")
DAMAGED = re.compile(r"[0-9](?:[.,][0-9]+)?E\+[0-9]{2}")
_ROUNDED = re.compile("[1-9][0-9]{14}0{1,6}")


def why_no_id(rows: Sequence[Sequence[str]], places: Mapping[str, int]) -> str | None:
    """Say why the column of ids cannot be the rows' own, or None.

    Args:
        rows: Some rows of the table.
        places: Canonical field to place in the row; ``external_id`` among them.
    """
    place = places["external_id"]
    filled = list(dict.fromkeys(tuple(row) for row in rows if row[place].strip()))
    if len(filled) < _FEWEST:
        return None
    if _counts_rows([row[place].strip() for row in filled]):
        return "it only counts the rows"
    columns = [place, *(places[field] for field in _TELLING if field in places)]
    keys = {tuple(row[column].strip() for column in columns) for row in filled}
    if len(keys) < _SHARE * len(filled):
        return "its values repeat"
    return None


def is_damaged(ids: set[str]) -> bool:
    """Say whether long numbers have had their last digits turned into noughts by a spreadsheet."""
    return len(ids) > 1 and all(_ROUNDED.fullmatch(text) for text in ids)


def _counts_rows(ids: Sequence[str]) -> bool:
    """Say whether ids are 1, 2, 3 … or the same downwards."""
    if not all(text.isascii() and text.isdigit() for text in ids):
        return False
    numbers = [int(text) for text in ids]
    upwards = list(range(1, len(numbers) + 1))
    return numbers == upwards or (
        numbers[-1] == 1 and numbers == list(range(numbers[0], numbers[0] - len(numbers), -1))
    )
