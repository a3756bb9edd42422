"""Sales on a resale channel, from its export."""

from __future__ import annotations

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.contract import Outcome, TransactionKind
from stallkeep_importers.rows.amounts import Amounts, sheet_sample
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.building import transactions
from stallkeep_importers.rows.order_lines import OrdersApart, settle_orders
from stallkeep_importers.rows.payment_rows import (
    Kinds,
    Refunds,
    like,
    not_completed,
    refuse_discounts,
    refuse_said_tries,
)
from stallkeep_importers.rows.profiles import Profile, names
from stallkeep_importers.rows.readings import Convert
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.states import states_of
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
        self._amounts = Amounts(sheet, _BASES)
        self._kinds = Kinds("sale")
        self._apart = OrdersApart()
        sample = sheet_sample(sheet)
        self._kinds.read(sample, self._amounts.read(sample).amounts)
        self._refunds = Refunds(sheet, sample, self._amounts.rule.base)

    def outcomes(self, block: Block) -> list[Outcome]:
        paid = self._amounts.read(block)
        ids = list(block.ids("external_id"))
        settle_orders(block, paid, self._amounts.rule, ids)
        days, moments = block.moments()
        written = list(paid.amounts)
        kinds, details = self._kinds.read(block, paid.amounts)
        if written != paid.amounts:
            self._amounts.settle_refund_fees(block, paid, written)
        states = states_of(block)
        refuse_said_tries(block)
        refunded, marks = self._refunds.read(block, states, paid.amounts)
        refunds = {place for place, kind in enumerate(kinds) if kind == "refund"}
        quantities = block.counts("quantity", minus_at=refunds)
        self._apart.refuse(block, kinds)
        _refuse_nameless(block, kinds)
        if self._amounts.rule.base == "price":
            _refuse_unclear(block, quantities)
        parts = {
            f"{part}_minor": [
                like(amount, value) for amount, value in zip(paid.amounts, values, strict=True)
            ]
            for part, values in paid.parts.items()
            if block.has(part)
        }
        costs = block.money("postage_cost")
        found: list[Outcome] = list(
            transactions(
                {
                    **block.common(),
                    **parts,
                    "kind": kinds,
                    "amount_minor": paid.amounts,
                    "occurred_on": days,
                    "occurred_at": moments,
                    "external_id": ids,
                    "method": ["online"] * len(block),
                    "fee_minor": paid.fees,
                    "postage_cost_minor": [None if cost is None else abs(cost) for cost in costs],
                    "note": block.notes("note"),
                    "detail": [detail or mark for detail, mark in zip(details, marks, strict=True)],
                    "refunded_minor": refunded,
                    **block.texts_of("reference", "tag_code", "title"),
                    **block.ids_of("related_id", "payout_id"),
                    "quantity": quantities,
                }
            )
        )
        for place, state in enumerate(states):
            if state == "not_completed":
                found[place] = not_completed(block, place)
        return found


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
