"""What a customer would pay for these lines, before anything is sold."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Literal

import msgspec

from stallkeep.domain.cautions import CAUTION
from stallkeep.domain.errors import RejectedInputError
from stallkeep.domain.money import to_text
from stallkeep.domain.tax import Receipt, TaxPart, TaxSettings, receipt
from stallkeep.store.connection import Connection
from stallkeep.store.items import Item
from stallkeep.store.shops import Shop
from stallkeep.work.references import Named, match_items
from stallkeep.work.shop_tax import tax_of
from stallkeep.work.stock_errors import UnknownReferenceError


class NoPriceError(RejectedInputError):
    """Neither the line nor its piece has a price."""

    code = "no-price"
    title = "There is no price to go by"


class AskedLine(msgspec.Struct, frozen=True, kw_only=True):
    """A line to be paid: a piece in stock, or any amount. The price is for all of the line.

    Attributes:
        named: The piece; None for one not in stock.
        title: What it is, where that is not the piece's own.
        quantity: Pieces.
        price_minor: None for the piece's own price times the quantity.
    """

    named: Named | None = None
    title: str | None = None
    quantity: int = 1
    price_minor: int | None = None


class AskedReceipt(msgspec.Struct, frozen=True, kw_only=True):
    """What is to be paid, and how.

    Attributes:
        lines: At least one.
        method: Only cash is rounded to the smallest coin.
        tax: Another way to deal with sales tax than the shop's, to see what it would bring.
    """

    lines: Sequence[AskedLine]
    method: str
    tax: TaxSettings | None = None


class ReceiptLine(msgspec.Struct, frozen=True, kw_only=True):
    """One line: its price as the shop states prices, and its part of the tax.

    A piece under a margin scheme has no tax worked out.
    """

    tag_code: str | None
    title: str | None
    quantity: int
    price_minor: int
    tax_minor: int
    margin_scheme: bool


class ReceiptQuote(msgspec.Struct, frozen=True, kw_only=True):
    """A receipt before the sale.

    Attributes:
        currency: ISO 4217 code of every amount.
        method: How it is to be paid.
        tax_mode: Whether tax is none, within the prices, or added to them.
        lines: In the order asked.
        net_minor: Without tax.
        taxes: Per rate.
        tax_minor: Their sum.
        total_minor: net + tax.
        cash_rounding_minor: Added to reach the smallest coin.
        to_pay_minor: total + cash rounding: the amount to key in, or to ask for in cash.
        advice: The same in a sentence.
        caution: To be shown wherever these figures are.
    """

    currency: str
    method: str
    tax_mode: Literal["none", "included", "added"]
    lines: tuple[ReceiptLine, ...]
    net_minor: int
    taxes: tuple[TaxPart, ...]
    tax_minor: int
    total_minor: int
    cash_rounding_minor: int
    to_pay_minor: int
    advice: str
    caution: str = CAUTION


async def quote_receipt(
    con: Connection, shop: Shop, asked: AskedReceipt, today: dt.date
) -> ReceiptQuote:
    """Add up a receipt; nothing is stored.

    Raises:
        UnknownReferenceError: The shop has no such piece.
        NoPriceError: A line has no price, and its piece has none either.
    """
    named = [line.named or Named() for line in asked.lines]
    found = await match_items(con, shop.shop_id, named)
    pieces = [_piece(line, item, n) for n, (line, item) in enumerate(_paired(asked, found))]
    prices = [_price(line, item, n) for n, (line, item) in enumerate(_paired(asked, pieces))]
    settings = asked.tax or tax_of(shop, today)
    untaxed = [n for n, item in enumerate(pieces) if item is not None and item.margin_scheme]
    paid = receipt(prices, settings, in_cash=asked.method == "cash", untaxed=untaxed)
    return ReceiptQuote(
        currency=shop.currency,
        method=asked.method,
        tax_mode=settings.mode,
        lines=tuple(
            _line(line, item, prices[n], paid.line_taxes_minor[n])
            for n, (line, item) in enumerate(_paired(asked, pieces))
        ),
        net_minor=paid.net_minor,
        taxes=paid.taxes,
        tax_minor=paid.tax_minor,
        total_minor=paid.gross_minor,
        cash_rounding_minor=paid.cash_rounding_minor,
        to_pay_minor=paid.to_pay_minor,
        advice=_advice(asked.method, paid, shop.currency),
    )


def _paired(
    asked: AskedReceipt, items: Sequence[Item | None]
) -> list[tuple[AskedLine, Item | None]]:
    return list(zip(asked.lines, items, strict=True))


def _piece(line: AskedLine, item: Item | None, place: int) -> Item | None:
    if line.named is not None and item is None:
        name = line.named.tag_code or line.named.item_id
        raise UnknownReferenceError(f"The shop has no piece {name}", f"#/lines/{place}")
    return item if line.named is not None else None


def _price(line: AskedLine, item: Item | None, place: int) -> int:
    if line.price_minor is not None:
        return line.price_minor
    if item is None or item.price_minor is None:
        raise NoPriceError(f"Line {place + 1} has no price, and no piece that has one")
    return item.price_minor * line.quantity


def _line(line: AskedLine, item: Item | None, price_minor: int, tax_minor: int) -> ReceiptLine:
    return ReceiptLine(
        tag_code=None if item is None else item.tag_code,
        title=line.title or (None if item is None else item.title),
        quantity=line.quantity,
        price_minor=price_minor,
        tax_minor=tax_minor,
        margin_scheme=item is not None and item.margin_scheme,
    )


def _advice(method: str, paid: Receipt, currency: str) -> str:
    amount = f"{to_text(paid.to_pay_minor, currency)} {currency}"
    told = f"Take {amount} in cash." if method == "cash" else f"Key in {amount}."
    if paid.tax_minor:
        told += f" It includes {to_text(paid.tax_minor, currency)} of tax."
    if paid.cash_rounding_minor:
        told += f" It is {to_text(paid.gross_minor, currency)} rounded to the smallest coin."
    return told
