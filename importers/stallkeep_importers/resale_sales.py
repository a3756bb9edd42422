"""Sales on a resale channel, from its export."""

from __future__ import annotations

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.contract import Outcome, TransactionKind
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.order_lines import OrdersApart, settle_orders
from stallkeep_importers.rows.paid_rows import PaidRows
from stallkeep_importers.rows.payment_rows import refuse_discounts
from stallkeep_importers.rows.profiles import Profile, names
from stallkeep_importers.rows.readings import Convert
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.table_importer import TableImporter

_BASES = ("total", "amount", "price", "subtotal")


class ResaleSales(TableImporter):
    """One row is one sale on a channel, or its refund."""

    name = "resale-sales"
    title = "Resale-channel sales"
    gives = frozenset({"transaction"})
    profile = Profile(
        fields=names(
            "date time zone title price total amount subtotal fee net postage postage_cost "
            "tax discount surcharge currency kind side state reference external_id related_id "
            "payout_id tag_code note quantity refunded size category payout_date rate "
            "fee_2 fee_3 fee_4 fee_5 tax_2 tax_3 tax_4"
        ),
        needs=(("date",), _BASES, ("title", "reference", "tag_code")),
        speaks_for={
            "title": 0.1,
            "price": 0.1,
            "postage": 0.2,
            "postage_cost": 0.1,
            "fee": 0.1,
            "external_id": 0.05,
            "reference": 0.05,
            "state": 0.02,
            "tip": -0.2,
            "method": -0.1,
            "listed_on": -0.1,
            "time": -0.05,
            "balance": -0.2,
            "subtotal": -0.02,
            "amount": -0.06,
        },
        together="external_id",
        file_words=("sale", "sold", "order", "verkauf", "bestell"),
    )

    def rows(self, sheet: Sheet) -> Convert:
        return _Sales(sheet).outcomes


class _Sales:
    """Converts the rows of one file."""

    def __init__(self, sheet: Sheet) -> None:
        self._apart = OrdersApart()
        self._rows = PaidRows(sheet, _BASES, "sale")
        self._rule = self._rows.amounts.rule

    def outcomes(self, block: Block) -> list[Outcome]:
        paid = self._rows.amounts.read(block)
        ids = list(block.ids("external_id"))
        settle_orders(block, paid, self._rule, ids)
        told = self._rows.read(block, paid)
        refunds = {place for place, kind in enumerate(told.kinds) if kind == "refund"}
        quantities = block.counts("quantity", minus_at=refunds)
        self._apart.refuse(block, told.kinds)
        _refuse_nameless(block, told.kinds)
        if self._rule.base == "price":
            _refuse_unclear(block, quantities)
        costs = block.money("postage_cost")
        details = zip(told.details, told.marks, strict=True)
        return told.outcomes(
            {
                "external_id": ids,
                "method": ["online"] * len(block),
                "fee_minor": paid.fees,
                "postage_cost_minor": [None if cost is None else abs(cost) for cost in costs],
                "note": block.notes("note"),
                "detail": [detail or mark for detail, mark in details],
                "quantity": quantities,
            }
        )


def _refuse_nameless(block: Block, kinds: list[TransactionKind]) -> None:
    """Reject sales that do not say of what: no title, or one of blanks, and no other word."""
    cells = zip(*(block.cells(field) for field in ("title", "reference", "tag_code")), strict=True)
    for place, (title, *others) in enumerate(cells):
        is_blank = bool(title) and not title.strip()
        is_nameless = not title.strip() and not any(map(str.strip, others))
        if kinds[place] == "sale" and (is_blank or is_nameless):
            block.fault(place, "title", TITLE_BLANK)


def _refuse_unclear(block: Block, quantities: list[int]) -> None:
    """Reject rows of several pieces, or with a discount, where nothing but a price is given."""
    for place, quantity in enumerate(quantities):
        if quantity != 1:
            block.fault(place, "price", _UNCLEAR)
    refuse_discounts(block)


TITLE_BLANK = Fault(
    "title-blank",
    "The row does not say what the piece is: its title is blank.",
    "Write the title of the piece and send the row again.",
)
_UNCLEAR = Fault(
    "price-of-several",
    "The row sells several pieces, and does not say whether the price is for each or for all.",
    "Add what the buyer paid in all.",
)
