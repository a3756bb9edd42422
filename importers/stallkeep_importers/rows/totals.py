"""Totals lines: known by what they say, checked by adding up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from itertools import accumulate
from operator import eq

from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.tables.dialects import looks_typed
from stallkeep_importers.words import languages, plain, says_total


def is_totals_row(row: Sequence[str]) -> bool:
    """Say whether a row that cannot be data is labelled as a totals line.

    By the first cell that is neither empty nor a date nor a number, or by a cell that says
    nothing else; a title such as "Total eclipse" further on is no label.
    """
    label = next(
        (cell for cell in row if cell.strip() and (says_total(cell) or not looks_typed(cell))), ""
    )
    return says_total(label) or not exact_labels("totals").isdisjoint(cell.strip() for cell in row)


@cache
def exact_labels(what: str) -> frozenset[str]:
    """Give labels in their usual spellings, to look for in a hurry.

    Args:
        what: "totals" for all lines that are no data, "balances" for what an account held.
    """
    lists = [
        words
        for language in languages().values()
        for meaning, words in language.totals.items()
        if what in ("totals", meaning)
    ]
    spelt = {
        form
        for word in {word for words in lists for each in words for word in (each, plain(each))}
        for form in (word, word.lower(), word.capitalize(), word.title(), word.upper())
    }
    return frozenset(form + mark for form in spelt for mark in ("", ":"))


class Totals:
    """Running sums of a table's columns of money.

    Attributes:
        is_whole: Whether every row so far was readable; else nothing can be said to differ.
    """

    def __init__(self) -> None:
        self.is_whole = True
        self._all: dict[str, int] = {}
        self._since: dict[str, int] = {}
        self._unpaid_all: dict[str, int] = {}
        self._unpaid_since: dict[str, int] = {}
        self._rows_all = 0
        self._rows_since = 0

    def add(self, block: Block, start: int, stop: int) -> None:
        """Add the rows *start* to *stop* of a block."""
        if stop <= start:
            return
        left_out = [place for place in block.left_out if start <= place < stop]
        for field, values in block.summed.items():
            amount = sum(filter(None, values[start:stop]))
            unpaid = sum(values[place] or 0 for place in left_out)
            for sums, more in (
                *((self._all, amount), (self._since, amount)),
                *((self._unpaid_all, unpaid), (self._unpaid_since, unpaid)),
            ):
                sums[field] = sums.get(field, 0) + more
        self._rows_all += stop - start
        self._rows_since += stop - start

    @property
    def is_one_row(self) -> bool:
        """Whether there is one row so far."""
        return self._rows_all == 1

    def agrees(self, values: Mapping[str, int | None]) -> bool:
        """Say whether amounts are the sum of all rows, or of those since the last subtotal.

        With or without the rows that were not paid.
        """
        if not self._rows_all:
            return False
        return any(value and value in self._sums(field) for field, value in values.items())

    def _sums(self, field: str) -> set[int | None]:
        found: set[int | None] = set()
        for sums, unpaid in ((self._all, self._unpaid_all), (self._since, self._unpaid_since)):
            if field in sums:
                found |= {sums[field], sums[field] - unpaid[field]}
        return found

    def end_part(self) -> None:
        """Begin a new part below a subtotal."""
        self._since = dict.fromkeys(self._since, 0)
        self._unpaid_since = dict.fromkeys(self._unpaid_since, 0)
        self._rows_since = 0

    def suspects(self, field: str, values: Sequence[int | None]) -> list[int]:
        """Give the places of amounts that are the sum of the two or more rows before them."""
        amounts = [value or 0 for value in values]
        found: set[int] = set()
        for before, rows in (
            (self._all.get(field, 0), self._rows_all),
            (self._since.get(field, 0), self._rows_since),
        ):
            running = accumulate(amounts, initial=before)
            if any(map(eq, amounts, running)):
                running = accumulate(amounts, initial=before)
                found.update(
                    place
                    for place, (amount, above) in enumerate(zip(amounts, running, strict=False))
                    if amount == above != 0 and rows + place >= 2  # noqa: PLR2004
                )
        return sorted(found)

    def describe(self, values: Mapping[str, int | None]) -> tuple[int, int] | None:
        """Give what a totals line says and what its rows add up to, where they differ."""
        for field, value in values.items():
            if value and field in self._all:
                return value, self._all[field]
        return None


def labelled(block: Block) -> set[int]:
    """Give the places of rows one of whose cells says that they are totals or balances."""
    labels = exact_labels("totals")
    found = noted(block, "balances")
    for cells in block.text_columns():
        found |= _places(cells, labels)
    return found


def noted(block: Block, what: str = "totals") -> set[int]:
    """Give the places of rows whose note or title is nothing but such a label."""
    labels = exact_labels(what)
    return _places(block.cells("note"), labels) | _places(block.cells("title"), labels)


def sums_in(block: Block, totals: Totals) -> list[int]:
    """Give the places of rows that speak of a total and whose amount is the sum of others."""
    for field in ("total", "amount", "cash", "price", "subtotal", "net"):
        if field in block.amounts:
            return [
                place
                for place in totals.suspects(field, block.amounts[field])
                if any(map(says_total, block.rows[place]))
            ]
    return []


def _places(cells: Sequence[str], labels: frozenset[str]) -> set[int]:
    if labels.isdisjoint(cells):
        return set()
    return {place for place, cell in enumerate(cells) if cell in labels}
