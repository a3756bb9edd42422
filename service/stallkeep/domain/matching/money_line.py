"""A line of money that pieces may have been paid with."""

from __future__ import annotations

import datetime as dt
from typing import Literal, TypeAlias

import msgspec

LineKind: TypeAlias = Literal["payment", "refund", "sale"]


class MoneyLine(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """One transaction that money came in (or went back) by.

    Attributes:
        transaction_id: Id of the transaction.
        kind: payment (card reader, cash tally), refund, or sale (a channel's order line).
        amount_minor: What the customer paid, tip and tax included; negative for a refund.
        occurred_on: Day.
        occurred_at: Moment, where the export has one.
        tip_minor: Tip shown within the amount.
        tax_minor: Tax shown within the amount; part of the price unless *tax_added*.
        tax_added: True when tax comes on top of tag prices.
        postage_minor: Postage within the amount.
        method: card, cash, online, transfer, other.
        note: What was typed beside it.
        title: Title the export gave.
        reference: The channel's reference of order, listing or item.
        tag_code: Code the export gave in a column of its own.
        related_id: Transaction id of the line this one belongs to (a refund's payment).
        quantity: Pieces, where the export says; 1 also means "does not say" for payments.
        completed: False for a declined or voided try: it never consumes a piece.
    """

    transaction_id: str
    kind: LineKind = "payment"
    amount_minor: int
    occurred_on: dt.date
    occurred_at: dt.datetime | None = None
    tip_minor: int | None = None
    tax_minor: int | None = None
    tax_added: bool = False
    postage_minor: int | None = None
    method: str | None = None
    note: str | None = None
    title: str | None = None
    reference: str | None = None
    tag_code: str | None = None
    related_id: str | None = None
    quantity: int = 1
    completed: bool = True


def line_order(line: MoneyLine) -> tuple[object, ...]:
    """Chronological, then by id: the order a day was in."""
    moment = line.occurred_at.timestamp() if line.occurred_at else 0.0
    return (line.occurred_on, moment, line.transaction_id)


def paid_for_pieces(line: MoneyLine) -> int:
    """The part of a line's amount that pieces were paid with, minor units, never negative."""
    away = (line.tip_minor or 0) + (line.postage_minor or 0)
    if line.tax_added:
        away += line.tax_minor or 0
    return max(line.amount_minor - away, 0)
