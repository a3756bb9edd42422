"""A tally of the cash box: each sale in cash, and what was put in, taken out or counted."""

from __future__ import annotations

from typing import cast

from stallkeep_importers.cells.cell_tests import side_of
from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.contract import CashCount, CashCountKind, Method, Outcome, TransactionKind
from stallkeep_importers.rows.amounts import part_too_large
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.building import transactions
from stallkeep_importers.rows.payment_rows import KIND_UNCLEAR, like, refuse_discounts, said_refunds
from stallkeep_importers.rows.profiles import Profile, names
from stallkeep_importers.rows.readings import Convert
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.table_importer import TableImporter
from stallkeep_importers.words import cell_words, plain

_BASES = ("cash", "amount", "total", "price")


class CashTally(TableImporter):
    """One row is one sale in cash, or one line about the box itself."""

    name = "cash-tally"
    title = "Cash tally"
    gives = frozenset({"transaction", "cash_count"})
    profile = Profile(
        fields=names(
            "date time zone cash amount total price discount quantity currency kind side tag_code "
            "title note external_id tip"
        ),
        needs=(("date",), _BASES),
        speaks_for={
            "cash": 0.3,
            "fee": -0.4,
            "net": -0.3,
            "method": -0.2,
            "external_id": -0.15,
            "state": -0.3,
            "postage": -0.4,
            "card_brand": -0.3,
            "tip": -0.05,
            "category": -0.3,
            "tax": -0.2,
            "reference": -0.3,
            "payout_id": -0.3,
            "payout_date": -0.3,
            "supplier": -0.2,
            "tag_code": 0.05,
            "note": 0.03,
            "time": 0.02,
            "balance": -0.1,
            "subtotal": -0.2,
        },
        file_words=("cash", "tally", "kasse", "bar-", "bargeld"),
    )

    def rows(self, sheet: Sheet) -> Convert:
        base = next(field for field in _BASES if field in sheet.places)

        def outcomes(block: Block) -> list[Outcome]:
            return _outcomes(block, base)

        return outcomes


def _outcomes(block: Block, base: str) -> list[Outcome]:
    days, moments = block.moments()
    amounts = [amount or 0 for amount in block.money(base, required=True)]
    quantities = block.counts("quantity")
    if base == "price":
        amounts = [amount * quantity for amount, quantity in zip(amounts, quantities, strict=True)]
    tips = block.money("tip")
    _settle_refunds(block, amounts)
    if base == "price":
        refuse_discounts(block)
    for place, (amount, tip) in enumerate(zip(amounts, tips, strict=True)):
        if tip and abs(tip) > abs(amount):
            block.fault(place, "tip", part_too_large("tip"))
    kinds: list[TransactionKind] = ["refund" if amount < 0 else "payment" for amount in amounts]
    cash: list[Method] = ["cash"] * len(block)
    found: list[Outcome] = list(
        transactions(
            {
                **block.common(),
                "kind": kinds,
                "amount_minor": amounts,
                "occurred_on": days,
                "occurred_at": moments,
                "method": cash,
                "external_id": block.ids("external_id") if block.has("external_id") else None,
                "tip_minor": list(map(like, amounts, tips)) if block.has("tip") else None,
                "note": block.notes("note") if block.has("note") else None,
                "quantity": quantities if block.has("quantity") else None,
                **block.texts_of("tag_code", "title"),
            }
        )
    )
    notes = block.notes("note")
    refunds = said_refunds(block, "kind", "note", "title")
    sides = block.cells("side")
    for place, word in enumerate(_box_words(block)):
        if word:
            found[place] = CashCount(
                record=block.records[place],
                line=block.lines[place],
                what=word,
                amount_minor=abs(amounts[place]),
                currency=block.currency_of(place),
                counted_on=days[place],
                note=notes[place],
            )
        elif side_of(sides[place]) == "out" and place not in refunds:
            block.fault(place, "side", _TAKEN_OUT)
    return found


def _settle_refunds(block: Block, amounts: list[int]) -> None:
    """Give refunds by word their minus; a mere note that contradicts the amount is a reject."""
    for place in said_refunds(block, "kind"):
        amounts[place] = -abs(amounts[place])
    for place, field in said_refunds(block, "note", "title").items():
        if amounts[place] > 0:
            block.fault(place, field, KIND_UNCLEAR)


def _box_words(block: Block) -> list[CashCountKind | None]:
    """Give what a row says about the box itself, in any cell that is nothing but that word."""
    known = cell_words("cash")
    found: list[CashCountKind | None] = [None] * len(block)
    for cells in (*block.text_columns(), block.cells("note"), block.cells("title")):
        for place, cell in enumerate(cells):
            word = plain(cell)
            if word in known:
                found[place] = found[place] or cast(CashCountKind, known[word])
    for place, cell in enumerate(block.cells("kind")):
        sale = cell_words("kinds").get(plain(cell), "")
        if cell.strip() and not found[place] and sale not in ("payment", "refund"):
            block.fault(place, "kind", _unknown(cell))
    return found


_TAKEN_OUT = Fault(
    "kind-unclear",
    "The row takes money out of the box, and does not say whether a customer got it back.",
    "Write refund or paid out beside it.",
)


def _unknown(cell: str) -> Fault:
    return Fault(
        "kind-unknown",
        f"We do not know what kind of line “{cell[:40]}” is.",
        "Say sale, float, counted, paid in or paid out instead.",
    )
