"""Tips, tax, fees and refunds in any arrangement of columns: read right, or asked about."""

from __future__ import annotations

from typing import NamedTuple

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st
from tests.unit.importers.reading import read, table

from stallkeep_importers.contract import QuestionError, Transaction


class Paid(NamedTuple):
    """What a customer paid in all, in cents, and what of it was tip, tax and the provider's fee."""

    whole: int
    tip: int
    tax: int
    fee: int
    is_refund: bool


def _paid(goods: int, tip: int, tax: int, fee: int, is_refund: bool) -> Paid:
    return Paid(goods + tip + tax, tip, tax, min(fee, goods), is_refund)


PAID = st.builds(
    _paid,
    goods=st.integers(100, 20_000),
    tip=st.sampled_from([0, 0, 50, 100, 333]),
    tax=st.sampled_from([0, 21, 190, 700]),
    fee=st.sampled_from([0, 17, 29, 35]),
    is_refund=st.sampled_from([False, False, False, True]),
)
# Each arrangement: heading to the cents it shows of one payment.
ARRANGEMENTS = {
    "amount with tip, net": ("Amount", "Tip", "Fee", "Net"),
    "amount before tip, net": ("Amount:before tip", "Tip", "Fee", "Net"),
    "subtotal, tip, total": ("Subtotal:before tip", "Tip", "Total"),
    "amount, tip": ("Amount", "Tip"),
    "amount before tip, tip": ("Amount:before tip", "Tip"),
    "total, tax, tip": ("Total", "Tax", "Tip"),
    "net sales, tax, tip, total": ("Net sales:before all", "Tax", "Tip", "Total"),
    "net sales, tax, tip": ("Net sales:before all", "Tax", "Tip"),
    "gross, fee as minus, net": ("Gross", "Fee:minus", "Net"),
    "gross, fee": ("Gross", "Fee"),
    "net, fee": ("Net", "Fee"),
    "amount, tax, fee, net": ("Amount", "Tax", "Fee", "Net"),
    "amount before tax, tax, fee, net": ("Amount:before tax", "Tax", "Fee", "Net"),
}


def _cents(paid: Paid, column: str) -> int:
    heading, _, how = column.partition(":")
    match heading:
        case "Tip":
            return paid.tip
        case "Tax":
            return paid.tax
        case "Fee":
            return -paid.fee if how == "minus" else paid.fee
        case "Net":
            return paid.whole - paid.fee
    left_out = {"before tip": paid.tip, "before tax": paid.tax, "before all": paid.tip + paid.tax}
    return paid.whole - left_out.get(how, 0)


def _without(columns: tuple[str, ...], paid: Paid) -> Paid:
    """Leave out what a file has no column for."""
    headings = {column.partition(":")[0] for column in columns}
    kept = paid._replace(
        tip=paid.tip if "Tip" in headings else 0,
        tax=paid.tax if "Tax" in headings else 0,
        fee=paid.fee if "Fee" in headings else 0,
    )
    return kept._replace(whole=paid.whole - (paid.tip - kept.tip) - (paid.tax - kept.tax))


@pytest.mark.parametrize("name", ARRANGEMENTS)
@settings(max_examples=120, deadline=None)
@given(st.lists(PAID, min_size=1, max_size=8), st.booleans(), st.booleans())
def test_parts_are_read_right_or_asked_about(
    name: str,
    truths: list[Paid],
    has_kinds: bool,
    is_signed: bool,
) -> None:
    columns = ARRANGEMENTS[name]
    rows = [_without(columns, each) for each in truths]
    if not (has_kinds or is_signed):
        rows = [each._replace(is_refund=False) for each in rows]
    cells = []
    for each in rows:
        sign = -1 if each.is_refund and is_signed else 1
        shown = [f"{sign * _cents(each, column) / 100:.2f}" for column in columns]
        kind = ["Refund" if each.is_refund else "Sale"] if has_kinds else []
        cells.append(("2025-05-03", *kind, *shown))
    header = (
        "Date",
        *(["Type"] if has_kinds else []),
        *(each.partition(":")[0] for each in columns),
    )
    try:
        found = read(table(cells, header))
    except QuestionError as question:
        event(f"{name}: asked {question.parameter}")
        return
    event(f"{name}: read")
    got = [each for each in found.outcomes[1:] if isinstance(each, Transaction)]
    assert len(got) == len(rows), found.codes
    for truth, taken in zip(rows, got, strict=True):
        sign = -1 if truth.is_refund else 1
        assert taken.amount_minor == sign * truth.whole
        assert (taken.tip_minor or 0, taken.tax_minor or 0) == (sign * truth.tip, sign * truth.tax)
        if taken.fee_minor is not None:
            assert taken.fee_minor == sign * truth.fee
