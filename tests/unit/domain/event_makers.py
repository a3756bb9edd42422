"""Small events to work out with a pencil; a test names only what matters to it."""

from __future__ import annotations

import datetime as dt
from itertools import count

from stallkeep.domain.results import (
    EventDay,
    Refund,
    SoldPiece,
    TakenPiece,
    Takings,
)

SATURDAY = dt.date(2026, 5, 2)
SUNDAY = dt.date(2026, 5, 3)
_numbers = count(1)


def a_day(
    day: dt.date = SATURDAY,
    *,
    open_minutes: int | None = 480,
    pitch_fee_minor: int = 0,
    float_minor: int | None = None,
    counted_cash_minor: int | None = None,
    taken_out_minor: int = 0,
    every_cash_sale_noted: bool = False,
    is_closed: bool = True,
) -> EventDay:
    return EventDay(
        day=day,
        open_minutes=open_minutes,
        pitch_fee_minor=pitch_fee_minor,
        float_minor=float_minor,
        counted_cash_minor=counted_cash_minor,
        taken_out_minor=taken_out_minor,
        every_cash_sale_noted=every_cash_sale_noted,
        is_closed=is_closed,
    )


def a_piece(
    price_minor: int,
    cost_minor: int | None = 0,
    item_id: str | None = None,
    *,
    quantity: int = 1,
    category: str | None = None,
    margin_scheme: bool = False,
    is_returned: bool = False,
) -> SoldPiece:
    return SoldPiece(
        item_id=item_id or f"item {next(_numbers)}",
        price_minor=price_minor,
        cost_minor=cost_minor,
        quantity=quantity,
        category=category,
        margin_scheme=margin_scheme,
        is_returned=is_returned,
    )


def a_sale(
    *pieces: SoldPiece,
    day: dt.date = SATURDAY,
    method: str = "card",
    tip_minor: int = 0,
    fee_minor: int | None = 0,
    tax_minor: int | None = None,
) -> Takings:
    return Takings(
        id=f"payment {next(_numbers)}",
        day=day,
        method=method,
        amount_minor=sum(piece.price_minor for piece in pieces) + tip_minor,
        state="matched",
        tip_minor=tip_minor,
        fee_minor=fee_minor,
        tax_minor=tax_minor,
        pieces=pieces,
    )


def a_payment(
    amount_minor: int,
    *,
    day: dt.date = SATURDAY,
    method: str = "card",
    fee_minor: int | None = 0,
) -> Takings:
    return Takings(
        id=f"payment {next(_numbers)}",
        day=day,
        method=method,
        amount_minor=amount_minor,
        state="unmatched",
        fee_minor=fee_minor,
    )


def a_refund(
    amount_minor: int,
    *,
    day: dt.date = SATURDAY,
    method: str = "card",
    fee_minor: int | None = 0,
) -> Refund:
    return Refund(
        id=f"refund {next(_numbers)}",
        day=day,
        method=method,
        amount_minor=amount_minor,
        fee_minor=fee_minor,
    )


def taken(
    item_id: str,
    price_minor: int | None,
    cost_minor: int | None = 0,
    *,
    home: int | None = None,
    quantity: int = 1,
    category: str | None = None,
) -> TakenPiece:
    return TakenPiece(
        item_id=item_id,
        quantity=quantity,
        price_minor=price_minor,
        cost_minor=cost_minor,
        category=category,
        counted_home=home,
    )
