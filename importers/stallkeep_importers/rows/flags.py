"""Columns that say yes, no or when under a word for what became of a row: "Voided", "Sold on"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache

import msgspec

from stallkeep_importers.cells.cell_tests import is_date
from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.contract import MappedColumn
from stallkeep_importers.tables.headings import Heading
from stallkeep_importers.words import cell_words, plain

# what a no makes of a row
_WITHOUT = {"paid": "not_completed", "live": "ended", "sent": "not_sent"}
_USUAL = frozenset({"payment", "instalment", "adjustment", "completed", "live", "payout", "fee"})
_USUAL |= {"on_its_way"}
_TICKS = frozenset({"✓", "✔", "☑", "●", "○"})
_CROSSES = frozenset({"-", "–", "—", "✗", "✘", "☐", "×"})  # noqa: RUF001 - signs people write
# words around the one that tells, in headings such as "is refunded", "date voided", "erstattet am"
_AROUND = frozenset(
    {"is", "was", "at", "on", "date", "of", "time", "am", "datum", "le", "el", "il", "op", "em"}
    | {"den", "dato", "fecha", "data", "dnia"}
)


class Flag(msgspec.Struct, frozen=True):
    """One such column.

    Attributes:
        place: In the row.
        header: Its heading.
        meaning: What it makes of a row: "not_completed", "refunded", "sold" …
        by: The answer that does: "yes", or "no" of a column such as "Paid".
    """

    place: int
    header: str
    meaning: str
    by: str = "yes"


def flags_of(
    columns: Sequence[MappedColumn],
    headings: Sequence[Heading],
    rows: Sequence[Sequence[str]],
    states: str,
) -> list[Flag]:
    """Find the columns of yes and no among those that are not used.

    Args:
        columns: Every column and what it was taken for.
        headings: Of all columns.
        rows: Some full rows.
        states: Table of the words of states in such files.
    """
    words = {**cell_words("kinds"), **cell_words(states)}
    found = []
    for column in columns:
        meaning = words.get(bare_state(headings[column.index].plain), "")
        if column.field or column.personal or not meaning or meaning in _USUAL:
            continue
        cells = {row[column.index] for row in rows}
        if all(answer_of(cell) or is_date(cell) for cell in cells):
            found.append(Flag(column.index, column.header, meaning))
    return found


def denials_of(
    columns: Sequence[MappedColumn],
    headings: Sequence[Heading],
    rows: Sequence[Sequence[str]],
    states: str,
) -> list[Flag]:
    """Find unused columns whose every row says yes or no to "Paid", "Shipped" or "Live".

    A blank is no answer there, and such a column is asked about; only what was not sent may be
    blank. Arguments as of `flags_of`.
    """
    told = ("live",) if states == "listing_states" else ("paid", "sent")
    found = []
    for column in columns:
        said = cell_words("yes_says").get(bare_state(headings[column.index].plain), "")
        if column.field or column.personal or said not in told or not rows:
            continue
        flag = Flag(column.index, column.header, _WITHOUT[said], by="no")
        if all(answer_under(flag, row[column.index]) for row in rows):
            found.append(flag)
    return found


def answer_under(flag: Flag, cell: str) -> str | None:
    """Read "yes" or "no" under "Paid", "Shipped" or "Live"; None for another word or a blank."""
    return answer_of(cell) if cell.strip() or flag.meaning == "not_sent" else None


@cache
def answer_of(cell: str) -> str | None:
    """Read "yes", "no" or nothing ("no"); None for another word."""
    text = cell.strip()
    if not text or text in _CROSSES:
        return "no"
    if text in _TICKS:
        return "yes"
    return _answers().get(plain(text)) if text.isalnum() else None


def flagged(cell: str, flag: Flag) -> Fault:
    """Say of a row that a column says yes, and that its amount may not be what is left."""
    return Fault(
        "flag-unclear",
        f"The column “{flag.header}” says “{cell[:40]}”, so the amount may not be what was kept.",
        "Enter what became of the row by hand, or empty that cell and send the row again.",
    )


def unanswered(cell: str, flag: Flag) -> Fault:
    """Say of a row that a column of yes and no says neither."""
    return Fault(
        "state-unknown",
        f"The column “{flag.header}” says “{cell[:40]}”, which is neither yes nor no.",
        "Write yes or no there and send the row again.",
    )


def _answers() -> Mapping[str, str]:
    return cell_words("answers")


def bare_state(heading: str) -> str:
    """Leave out the words around the one that tells: "is refunded", "date voided"."""
    return " ".join(word for word in heading.split() if word not in _AROUND)
