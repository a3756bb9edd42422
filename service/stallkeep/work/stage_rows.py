"""Canonical rows → the text that is copied into the staging table: keys, ids, event; no I/O."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from operator import attrgetter
from typing import Any, Final
from uuid import UUID
from zoneinfo import ZoneInfo

from stallkeep.domain.row_identity import content_digest, row_key
from stallkeep.store.copy_text import copy_text, json_values, plain_values, text_arrays, texts
from stallkeep.store.ids import new_id_texts
from stallkeep.store.intake import CONTENT, Slice
from stallkeep_importers.contract import Transaction

_NEEDS_NO_MATCH: Final = frozenset({"fee", "payout", "adjustment"})
_PLAIN: Final = frozenset(
    {"occurred_on", "occurred_at", "quantity", "record", "line"}
    | {name for name in CONTENT if name.endswith("_minor")}
)
_WRITERS: Final[Mapping[str, Callable[[Sequence[Any]], Sequence[str]]]] = {
    **{name: plain_values if name in _PLAIN else texts for name in CONTENT},
    "covers": text_arrays,
    "more": json_values,
}
_content = attrgetter(*CONTENT)


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

        A column that is null in every row is left out: most exports fill half of them.
        """
        content = dict(zip(CONTENT, zip(*map(_content, rows), strict=True), strict=True))
        days: Sequence[dt.date] = content["occurred_on"]
        cells: dict[str, Sequence[str]] = {
            name: _WRITERS[name](values)
            for name, values in content.items()
            if values[0] is not None or values.count(None) < len(rows)
        }
        cells["ordered_at"] = self._ordered_at(content["occurred_at"], days, cells)
        cells["match_state"] = [
            "not_needed" if kind in _NEEDS_NO_MATCH else "unmatched" for kind in content["kind"]
        ]
        cells |= self._marks(rows)
        if self._event_days:
            cells["event_id"] = plain_values(list(map(self._event_days.get, days)))
        self.days.update(days)
        return Slice(len(rows), tuple(cells), copy_text(cells))

    def _marks(self, rows: Sequence[Transaction]) -> dict[str, Sequence[str]]:
        """Give the rows their place in the file, an id, their keys."""
        first, self._seq = self._seq + 1, self._seq + len(rows)
        keys = list(map(row_key, rows))
        marks = {
            "seq": plain_values(range(first, first + len(rows))),
            "id": new_id_texts(len(rows)),
            "row_key": texts(keys),
            "content_key": [content_digest(row).hex() for row in rows],
        }
        if len(set(keys)) < len(keys):
            marks["again"] = plain_values(_again(keys))
        return marks

    def _ordered_at(
        self,
        moments: Sequence[dt.datetime | None],
        days: Sequence[dt.date],
        cells: Mapping[str, Sequence[str]],
    ) -> Sequence[str]:
        if None not in moments:
            return cells["occurred_at"]
        midnights = {day: dt.datetime.combine(day, dt.time(), self._zone) for day in set(days)}
        return plain_values([at or midnights[day] for at, day in zip(moments, days, strict=True)])


def _again(keys: Sequence[str]) -> Sequence[bool]:
    """Mark rows whose key stands in an earlier row of the slice."""
    first = {key: place for place, key in reversed(list(enumerate(keys)))}
    return [first[key] < place for place, key in enumerate(keys)]
