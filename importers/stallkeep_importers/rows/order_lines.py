"""Several rows of one order: each line gets an id of its own, and no total is counted twice.

A channel that exports a row per piece writes the order's number, and often the order's total,
postage and fee, on every row. What is repeated belongs to the order and is counted once; where
the rows cannot be explained so, they are rejected rather than doubled.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby, islice

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.rows.amount_laws import Values
from stallkeep_importers.rows.amount_rules import Rule
from stallkeep_importers.rows.amounts import Paid
from stallkeep_importers.rows.blocks import Block

_MOST_ORDERS = 100_000
_TELLING = ("reference", "tag_code", "title")


def settle_orders(block: Block, paid: Paid, rule: Rule, ids: list[str | None]) -> None:
    """Bring the rows of orders with several lines in order, in place.

    Args:
        block: Rows of one order are in one block, one below the other.
        paid: What each row says was paid.
        rule: How the file's columns give it.
        ids: Outside ids by row; those of lines that share one are made their own.
    """
    for places in _orders(block):
        names = [_name(block, place) for place in places]
        if len(set(names)) < len(names):
            continue  # the same row again: known by the same id
        for place, name in zip(places, names, strict=True):
            ids[place] = f"{ids[place]} / {name}"
        if not _settle_amounts(block, paid, rule, places):
            for place in places:
                block.faults.pop(place, None)
                block.fault(place, rule.base, _UNEXPLAINED)


class OrdersApart:
    """Notices rows of one order that do not follow each other; of the last so many orders."""

    def __init__(self) -> None:
        self._names: dict[str, int] = {}

    def refuse(self, block: Block, kinds: Sequence[str]) -> None:
        """Reject a sale whose order stood further up with another piece.

        What is said of the whole order was taken with the first row already.
        """
        cells = block.cells("external_id")
        for text, group in groupby(range(len(block)), key=cells.__getitem__):
            places = [place for place in group if kinds[place] == "sale"]
            if not text.strip() or not places:
                continue
            name = hash(tuple(_name(block, place) for place in places))
            if self._names.setdefault(text, name) != name:
                for place in places:
                    block.fault(place, "external_id", _APART)
        for text in list(islice(self._names, max(0, len(self._names) - _MOST_ORDERS))):
            del self._names[text]


def _orders(block: Block) -> Iterator[list[int]]:
    """Yield the places of rows that follow each other and share an outside id."""
    cells = block.cells("external_id")
    for text, group in groupby(range(len(block)), key=cells.__getitem__):
        places = list(group)
        if len(places) > 1 and text.strip():
            yield places


def _name(block: Block, place: int) -> str:
    """Name a line within its order by what tells its piece from the others."""
    cells = (block.cells(field)[place].strip() for field in _TELLING)
    return next(filter(None, cells), "")


def _settle_amounts(block: Block, paid: Paid, rule: Rule, places: Sequence[int]) -> bool:
    """Give each line its own share; False where nobody can tell what that is."""
    amounts = [paid.amounts[place] for place in places]
    if rule.base == "total" and _says_once(block, places):
        amounts = [max(amounts)] * len(places)
    if rule.base != "total" or len(set(amounts)) > 1:
        return _count_once(block, paid, rule, places)
    if not block.has("price"):
        return False
    own = _own_prices(block, places)
    if own is None:
        return False
    extra = _sum(_once(paid.parts["postage"], places))
    if amounts[0] not in (sum(own), sum(own) + extra):
        return False
    shared = extra if amounts[0] != sum(own) else 0
    for number, place in enumerate(places):
        paid.amounts[place] = own[number] + (shared if number == 0 else 0)
        if block.faults.get(place, ("", _UNEXPLAINED))[1].code in (
            "sums-disagree",
            "money-missing",
        ):
            block.faults.pop(place)
    return _count_once(block, paid, rule, places, is_total=True)


def _says_once(block: Block, places: Sequence[int]) -> bool:
    """Say whether the order's total stands on its first line and the others leave it empty."""
    first, *others = (bool(block.cells("total")[place].strip()) for place in places)
    return first and not any(others)


def _count_once(
    block: Block, paid: Paid, rule: Rule, places: Sequence[int], *, is_total: bool = False
) -> bool:
    """Keep what is repeated on every line on the first one only."""
    for values in (paid.fees, *paid.parts.values()):
        kept = _once(values, places)
        if kept == [values[place] for place in places]:
            continue
        if not is_total and values is not paid.fees:
            return False  # on top of every line, or once for the order?
        for place, value in zip(places, kept, strict=True):
            values[place] = value
    return True


def _once(values: Values, places: Sequence[int]) -> Values:
    """Give values with a repeated one kept at the first place only."""
    own = [values[place] for place in places]
    if own[0] and len(set(own)) == 1:
        return [own[0], *([None] * (len(own) - 1))]
    return own


def _own_prices(block: Block, places: Sequence[int]) -> list[int] | None:
    prices, counts = block.money("price"), block.counts("quantity")
    own = [prices[place] for place in places]
    if None in own:
        return None
    return [(price or 0) * counts[place] for price, place in zip(own, places, strict=True)]


def _sum(values: Values) -> int:
    return sum(value or 0 for value in values)


_APART = Fault(
    "order-apart",
    "Another row of this order stands further up, and its total may have been counted there.",
    "Sort the file by order number, or write what was paid for this piece alone.",
)
_UNEXPLAINED = Fault(
    "total-of-several",
    "The order has several lines, and the row does not say which part of the total is its own.",
    "Write what was paid for each piece alone, and send the rows again.",
)
