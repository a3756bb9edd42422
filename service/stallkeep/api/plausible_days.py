"""Days no seller can mean.

The first and the last day of Python's calendar are worse than wrong: the driver takes them for
minus infinity and infinity, which no answer can be written from.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any, Final

from msgspec import Struct

FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2199
EXPECTED: Final = f"Expected a day in the years {FIRST_YEAR} to {LAST_YEAR}"


def implausible_day(value: Any) -> list[str | int] | None:  # noqa: ANN401 - a decoded body
    """Find a day or moment outside those years; gives the way to it from the root."""
    open_ones: list[tuple[Any, list[str | int]]] = [(value, [])]
    while open_ones:
        one, steps = open_ones.pop()
        if isinstance(one, dt.date):  # a moment is one too
            if not FIRST_YEAR <= one.year <= LAST_YEAR:
                return steps
        else:
            open_ones += [(inner, [*steps, step]) for step, inner in _inside(one)]
    return None


def _inside(one: Any) -> Iterator[tuple[str | int, Any]]:  # noqa: ANN401 - likewise
    if isinstance(one, Struct):
        names = zip(one.__struct_encode_fields__, one.__struct_fields__, strict=True)
        yield from ((told, getattr(one, name)) for told, name in names)
    elif isinstance(one, list | tuple):
        yield from enumerate(one)
    elif isinstance(one, dict):
        yield from one.items()
