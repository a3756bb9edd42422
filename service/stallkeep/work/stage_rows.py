"""Canonical rows → the text that is copied into the staging table: keys, ids, event; no I/O."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final
from uuid import UUID
from zoneinfo import ZoneInfo

from stallkeep.domain.row_identity import Columns, columns_of, identify, seconds_of
from stallkeep.store.copy_text import (
    copy_text,
    json_values,
    plain_values,
    recurring_values,
    text_arrays,
    texts,
)
from stallkeep.store.ids import new_id_texts
from stallkeep.store.intake import CONTENT, Slice
from stallkeep_importers.contract import Transaction

_NEEDS_NO_MATCH: Final = frozenset({"fee", "payout", "adjustment"})
_PLAIN: Final = frozenset(
    {"quantity", "record", "line"} | {name for name in CONTENT if name.endswith("_minor")}
)
_WRITERS: Final[Mapping[str, Callable[[Sequence[Any]], Sequence[str]]]] = {
    **{name: plain_values if name in _PLAIN else texts for name in CONTENT},
    "occurred_on": recurring_values,
    "covers": text_arrays,
    "more": json_values,
}
_USUAL: Final[Mapping[str, object]] = {"quantity": 1}
"""What the staging table fills in where a column is left out; null elsewhere."""


class RowStager:
    """Lays out the rows of one file, slice by slice.

    Args:
        zone: The shop's; a row without a time of day is ordered at the day's first moment.
        event_days: Day to the event held then.

    Attributes:
        days: The days of the rows so far.
    """

    def __init__(self, zone: ZoneInfo, event_days: Mapping[dt.date, UUID]) -> None:
        self._zone = zone
        self._event_days = event_days
        self._seq = 0
        self.days: set[dt.date] = set()

    def lay_out(self, rows: Sequence[Transaction]) -> Slice:
        """Lay out the next rows of the file, at least one.

        A column that is as usual in every row is left out: most exports fill half of them.
        """
        columns = columns_of(rows)
        days: Sequence[dt.date] = columns["occurred_on"]
        cells: dict[str, Sequence[str]] = {
            name: _WRITERS[name](columns[name])
            for name in CONTENT
            if name != "occurred_at" and _is_told(columns[name], _USUAL.get(name))
        }
        cells["match_state"] = [
            "not_needed" if kind in _NEEDS_NO_MATCH else "unmatched" for kind in columns["kind"]
        ]
        cells |= self._marks(columns)
        if self._event_days:
            cells["event_id"] = plain_values(list(map(self._event_days.get, days)))
        self.days.update(days)
        return Slice(len(rows), tuple(cells), copy_text(cells))

    def _marks(self, columns: Columns) -> dict[str, Sequence[str]]:
        """Give the rows their place in the file and in time, an id, their keys."""
        seconds = seconds_of(columns)
        keys = identify(columns, seconds)
        first, self._seq = self._seq + 1, self._seq + len(seconds)
        marks = {
            "seq": plain_values(range(first, first + len(seconds))),
            "id": new_id_texts(len(seconds)),
            "row_key": texts(keys.row_keys),
            "content_key": keys.content_keys,
            "occurred_seconds": plain_values(seconds),
        }
        if None in seconds:
            marks["ordered_seconds"] = self._ordered(seconds, columns["occurred_on"])
        if len(set(keys.row_keys)) < len(seconds):
            marks["again"] = plain_values(_again(keys.row_keys))
        return marks

    def _ordered(self, seconds: Sequence[float | None], days: Sequence[dt.date]) -> Sequence[str]:
        midnights = {
            day: dt.datetime.combine(day, dt.time(), self._zone).timestamp() for day in set(days)
        }
        return plain_values(
            [
                midnights[day] if second is None else second
                for second, day in zip(seconds, days, strict=True)
            ]
        )


def _is_told(values: Sequence[object], usual: object) -> bool:
    return values[0] != usual or values.count(usual) < len(values)


def _again(keys: Sequence[str]) -> Sequence[bool]:
    """Mark rows whose key stands in an earlier row of the slice."""
    first = {key: place for place, key in reversed(list(enumerate(keys)))}
    return [first[key] < place for place, key in enumerate(keys)]
