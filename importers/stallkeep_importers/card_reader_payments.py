"""Payments taken with a card reader, from its export."""

# ruff: noqa: RUF001 - signs people write

from __future__ import annotations

import re
from typing import cast

from stallkeep_importers.contract import Method, Outcome
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.paid_rows import PaidRows
from stallkeep_importers.rows.profiles import Profile, names
from stallkeep_importers.rows.readings import Convert
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.table_importer import TableImporter
from stallkeep_importers.words import cell_words, plain_among

# one of one, or all at once whatever the card's bank makes of it: "1", "1/1", "3x"
_IN_FULL = re.compile(
    r"\s*(?:0*[01]|0*1\s*/\s*0*1|[0-9]{1,2}\s*[x×]|[x×]\s*[0-9]{1,2}|[-–—])\s*", re.IGNORECASE
)
_BASES = ("total", "amount", "subtotal", "net")


class CardReaderPayments(TableImporter):
    """One row is one payment, refund, fee or payout of a card reader."""

    name = "card-reader-payments"
    title = "Card-reader payments"
    gives = frozenset({"transaction"})
    profile = Profile(
        fields=names(
            "date time zone total amount subtotal fee net tip tax surcharge postage "
            "fee_2 fee_3 fee_4 fee_5 tax_2 tax_3 tax_4 "
            "discount currency kind side state response method external_id related_id payout_id "
            "payout_date tag_code reference title note quantity refunded balance rate "
            "instalment card_brand"
        ),
        needs=(("date",), ("amount", "total", "subtotal", "net+fee")),
        speaks_for={
            "fee": 0.1,
            "tip": 0.15,
            "method": 0.1,
            "card_brand": 0.15,
            "kind": 0.05,
            "time": 0.05,
            "external_id": 0.05,
            "payment_id": 0.05,
            "state": 0.03,
            "note": 0.02,
            "title": -0.15,
            "postage": -0.3,
            "price": -0.2,
            "reference": -0.05,
            "category": -0.2,
            "payout_date": -0.05,
            "listed_on": -0.3,
            "balance": -0.2,
            "cash": -0.4,
        },
        file_words=("card", "payment", "transaction", "karte", "zahlung"),
    )

    def rows(self, sheet: Sheet) -> Convert:
        return _Payments(sheet).outcomes


class _Payments:
    """Converts the rows of one file."""

    def __init__(self, sheet: Sheet) -> None:
        self._rows = PaidRows(sheet, _BASES, "payment")

    def outcomes(self, block: Block) -> list[Outcome]:
        told = self._rows.read(block, self._rows.amounts.read(block))
        return told.outcomes(
            {
                "external_id": block.ids("external_id") if block.has("external_id") else None,
                "method": _methods(block),
                "fee_minor": told.paid.fees if block.has("fee") else None,
                "note": block.notes("note") if block.has("note") else None,
                "detail": _details(block, told.details, told.marks),
                "quantity": block.counts("quantity") if block.has("quantity") else None,
            }
        )


def _methods(block: Block) -> list[Method | None]:
    """Give how each row was paid: with a card, unless the file says otherwise."""
    if not block.has("method"):
        return ["card"] * len(block)
    cells = block.cells("method")
    meanings = {cell: _method(cell) for cell in set(cells)}
    return [meanings[cell] for cell in cells]


def _method(cell: str) -> Method | None:
    """Read one means of payment; None for several at once, a card for a word we do not know."""
    known = cell_words("methods")
    whole = plain_among(cell, known)
    words = [whole] if whole in known else whole.split()
    found = {known[word] for word in words if word in known} or {"card"}
    return cast(Method, found.pop()) if len(found) == 1 else None


def _details(
    block: Block, details: list[str | None], marks: list[str | None]
) -> list[str | None] | None:
    if block.has("instalment"):
        details = [
            detail or ("instalment" if cell.strip() and not _IN_FULL.fullmatch(cell) else None)
            for detail, cell in zip(details, block.cells("instalment"), strict=True)
        ]
    found = [detail or mark for detail, mark in zip(details, marks, strict=True)]
    return found if any(found) else None
