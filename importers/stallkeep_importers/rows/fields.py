"""Canonical fields by what their cells hold, and the test a cell must pass for each."""

from __future__ import annotations

from collections.abc import Callable

from stallkeep_importers.cells.cell_tests import (
    is_date,
    is_money,
    is_no_method,
    is_no_price,
    is_time,
    side_of,
)
from stallkeep_importers.rows.response_codes import is_answer
from stallkeep_importers.rows.states import state_of

MONEY_FIELDS = frozenset(
    {
        "amount",
        "cost",
        "cash",
        "total",
        "subtotal",
        "net",
        "price",
        "discount",
        "refunded",
        "balance",
    }
    | {"fee", "tip", "tax", "surcharge", "postage", "postage_cost", "debit", "credit"}
)
FURTHER = {
    "fee": ("fee_2", "fee_3", "fee_4", "fee_5"),
    "tax": ("tax_2", "tax_3", "tax_4"),
}
MONEY_FIELDS |= {name for names in FURTHER.values() for name in names}
SIDED = frozenset({"amount", "cost", "cash", "total", "subtotal", "net", "price"})
DATE_FIELDS = frozenset({"date", "payout_date", "listed_on", "ended_on"})
ID_FIELDS = frozenset({"external_id", "related_id", "payout_id", "card_brand"})


def test_of(field: str) -> Callable[[str], bool] | None:
    """Give the test of a field's cells; None where any text may be one."""
    for fields, test in _TESTS:
        if field in fields:
            return test
    return None


_TESTS: tuple[tuple[frozenset[str], Callable[[str], bool]], ...] = (
    (MONEY_FIELDS, is_money),
    (DATE_FIELDS, is_date),
    (ID_FIELDS, is_no_price),
    (frozenset({"response"}), lambda cell: is_answer(cell) or state_of(cell) is not None),
    (frozenset({"time"}), is_time),
    (frozenset({"kind"}), is_no_method),
    (frozenset({"side"}), lambda cell: side_of(cell) is not None),
)
