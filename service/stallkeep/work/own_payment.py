"""Payments and refunds that a sale itself is the evidence of."""

from __future__ import annotations

import datetime as dt
from typing import Any, Final
from uuid import UUID
from zoneinfo import ZoneInfo

from stallkeep.store import own_evidence, sales
from stallkeep.store.connection import Connection
from stallkeep.store.matches import NewMatch, Piece, add_match
from stallkeep.store.own_evidence import OwnLine
from stallkeep.store.shops import Shop
from stallkeep_importers.contract import Transaction

OWN_METHODS: Final = ("cash", "transfer", "other")
"""Ways of paying that no export tells of."""


async def add_own_payment(
    con: Connection, shop: Shop, sale: sales.Sale, said_by: str
) -> sales.Sale:
    """Write the payment of a sale, matched to it for certain."""
    row = _row(
        shop, sale, "payment", (sale.total_minor, sale.tax_minor), sale.sold_at, sale.sold_on
    )
    line = OwnLine(
        row_key=f"sale:{sale.id}",
        row=row,
        ordered_at=sale.sold_at or _midnight(sale.sold_on, shop),
        match_state="matched",
    )
    transaction_id = await own_evidence.add_line(con, shop.shop_id, sale, line)
    lines = (await sales.lines_of(con, shop.shop_id, [sale.id]))[sale.id]
    match = NewMatch(
        transaction_id=transaction_id,
        state="matched",
        explanation="pieces" if any(line.item_id for line in lines) else "untagged",
        probability=1.0,
        reason="entered with the sale",
        decided_by=said_by,
        sale_id=sale.id,
        pieces=_pieces(lines),
    )
    await add_match(con, shop.shop_id, match)
    linked = await sales.find_sale(con, shop.shop_id, sale.id)
    return linked or sale


async def add_own_refund(
    con: Connection,
    shop: Shop,
    sale: sales.Sale,
    given_back: tuple[int, int | None],
    *,
    day: dt.date | None,
    now: dt.datetime,
) -> UUID:
    """Write money given back for a sale: the amount, above 0, and the tax within it if known.

    *day* is None for the present moment; of another day no time is known.
    """
    amount_minor, tax_minor = given_back
    within = None if tax_minor is None else -tax_minor
    today = now.astimezone(ZoneInfo(shop.time_zone)).date()
    row = _row(
        shop,
        sale,
        "refund",
        (-amount_minor, within),
        now if day is None else None,
        day or today,
    )
    key = own_evidence.refund_key(sale.id, sale.version)
    ordered_at = now if day is None else _midnight(day, shop)
    line = OwnLine(row_key=key, row=row, ordered_at=ordered_at, match_state="not_needed")
    return await own_evidence.add_line(con, shop.shop_id, sale, line)


def _row(  # noqa: PLR0917 - one row's columns
    shop: Shop,
    sale: sales.Sale,
    kind: Any,  # noqa: ANN401 - a literal of the contract
    amount_and_tax_minor: tuple[int, int | None],
    at: dt.datetime | None,
    on: dt.date,
) -> Transaction:
    method: Any = sale.method
    return Transaction(
        record=1,
        line=1,
        kind=kind,
        amount_minor=amount_and_tax_minor[0],
        tax_minor=amount_and_tax_minor[1],
        currency=shop.currency,
        occurred_on=on,
        occurred_at=at,
        method=method,
        related_id=None if kind == "payment" else f"sale:{sale.id}",
    )


def _midnight(day: dt.date, shop: Shop) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(), ZoneInfo(shop.time_zone))


def _pieces(lines: list[sales.SaleLine]) -> list[Piece]:
    """Join the lines of one item: a match names each item once."""
    joined: dict[UUID, tuple[int, int]] = {}
    for line in lines:
        if line.item_id is not None:
            price, quantity = joined.get(line.item_id, (0, 0))
            joined[line.item_id] = (price + line.price_minor, quantity + line.quantity)
    return [Piece(item_id, price, quantity) for item_id, (price, quantity) in joined.items()]
