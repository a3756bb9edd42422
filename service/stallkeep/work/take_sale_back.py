"""Take a sale back: void it as if it had never been, or take single pieces back for money."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from uuid import UUID
from zoneinfo import ZoneInfo

import msgspec

from stallkeep.domain.errors import RejectedInputError
from stallkeep.domain.money import to_text
from stallkeep.domain.tax import round_to_step
from stallkeep.store import own_evidence, sales
from stallkeep.store.connection import Connection
from stallkeep.store.joined_sales import part_company
from stallkeep.store.shops import Shop
from stallkeep.store.turns import matching_turn
from stallkeep.work.own_payment import OWN_METHODS, add_own_refund
from stallkeep.work.own_word import keep_match
from stallkeep.work.stock_errors import SaleIsVoidError, SaleNotFoundError, SaleOfMatchError
from stallkeep.work.versions import Expected

WholeSale = tuple[sales.Sale, list[sales.SaleLine]]


class Back(msgspec.Struct, frozen=True, kw_only=True):
    """What came back.

    Attributes:
        line_nos: Lines of the sale whose pieces are here again.
        refund_minor: Money given back for them; None for what they cost the customer, or, where
            the sale was made from a payment's match, for what the exports tell.
        on: The day it came back, by the shop's clock; None is today.
        said_by: Who says so.
    """

    line_nos: Sequence[int]
    refund_minor: int | None
    on: dt.date | None
    said_by: str


async def read_sale(con: Connection, shop_id: UUID, sale_id: UUID) -> WholeSale:
    """Read one sale with its lines.

    Raises:
        SaleNotFoundError: The shop has none with this id.
    """
    sale = await sales.find_sale(con, shop_id, sale_id)
    if sale is None:
        raise SaleNotFoundError(f"There is no sale {sale_id}")
    return sale, (await sales.lines_of(con, shop_id, [sale_id]))[sale_id]


async def void_sale(con: Connection, shop: Shop, sale_id: UUID, expected: Expected) -> WholeSale:
    """Take back a sale that was entered by mistake. Its pieces are in stock again.

    Its own payment goes with it; an imported payment stays and is unmatched again.

    Raises:
        SaleNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
        SaleOfMatchError: It was made from a match; refuse the match instead.
        SaleIsVoidError: It is void already, or pieces of it were returned.
    """
    sale, lines = await _open(con, shop.shop_id, sale_id, expected)
    if sale.origin == "match":
        raise SaleOfMatchError(
            "It was made from a payment's match: take that back (DELETE the match of transaction "
            f"{sale.transaction_id}) or refuse it; pieces that came back are returned instead"
        )
    if any(line.state == "returned" for line in lines):
        raise SaleIsVoidError("Pieces of it came back already; return the others instead")
    await sales.give_back(con, shop.shop_id, sale_id, [line.line_no for line in lines])
    if sale.transaction_id is not None:
        await part_company(con, shop.shop_id, [sale.transaction_id], "its sale was taken back")
    await own_evidence.release_payment(con, shop.shop_id, sale, "its sale was taken back")
    await sales.change_sale(con, shop.shop_id, sale_id, {"state": "void"})
    return await read_sale(con, shop.shop_id, sale_id)


async def return_lines(
    con: Connection,
    shop: Shop,
    sale_id: UUID,
    back: Back,
    expected: Expected,
    *,
    now: dt.datetime,
) -> WholeSale:
    """Take pieces back into stock and give money back.

    Money given back in cash and the like is written as a refund; one to a card comes with the
    export. Without an amount what the lines cost the customer is given back: price, tax on top of
    it, and the rounding of cash, so that the whole sale returned in parts gives the whole.

    With no line at all, and an amount, money is given back for what the customer keeps.

    A sale made from a payment's match stays matched, now by a person's word; its refund is looked
    for in the exports, and is written here only where an amount is named.

    Raises:
        SaleNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
        SaleIsVoidError: It is void.
        RejectedInputError: A line is not there or is back already, the refund is too high, or the
            day is before the sale or to come.
    """
    seen = await sales.find_sale(con, shop.shop_id, sale_id)
    if seen is not None and seen.origin == "match":
        await matching_turn(con, shop.shop_id)
    sale, lines = await _open(con, shop.shop_id, sale_id, expected)
    day = _day_of_return(shop, sale, back.on, now)
    wanted = [line for line in lines if line.line_no in set(back.line_nos)]
    if not wanted and not back.line_nos:
        await _give_money_back(con, shop, (sale, lines), back.refund_minor, day=day, now=now)
        return await read_sale(con, shop.shop_id, sale_id)
    if len(wanted) != len(set(back.line_nos)) or any(line.state != "sold" for line in wanted):
        raise RejectedInputError("A line is not of this sale, or is back already")
    kept = [line for line in lines if line.state == "sold"]
    cost, tax = _paid_for(shop, sale, kept, wanted)
    most = min(cost, await _left_of(con, shop.shop_id, sale, lines))
    unasked = 0 if sale.origin == "match" else most
    refund = unasked if back.refund_minor is None else back.refund_minor
    if not 0 <= refund <= most:
        raise RejectedInputError(
            f"{to_text(refund, shop.currency)} would be given back, and "
            f"{to_text(most, shop.currency)} was paid for these lines"
        )
    if sale.origin == "match" and sale.transaction_id is not None:
        await keep_match(con, shop.shop_id, sale.transaction_id, back.said_by)
    await sales.give_back(con, shop.shop_id, sale_id, [line.line_no for line in wanted])
    if refund and sale.method in OWN_METHODS:
        given = (refund, tax if refund == cost else None)
        await add_own_refund(con, shop, sale, given, day=day, now=now)
    await sales.change_sale(con, shop.shop_id, sale_id, {})
    return await read_sale(con, shop.shop_id, sale_id)


async def _give_money_back(
    con: Connection,
    shop: Shop,
    whole: WholeSale,
    refund_minor: int | None,
    *,
    day: dt.date | None,
    now: dt.datetime,
) -> None:
    """Write money given back for pieces that the customer keeps."""
    sale, lines = whole
    if not refund_minor:
        raise RejectedInputError("Say which lines came back, or how much was given back")
    if sale.method not in OWN_METHODS:
        raise RejectedInputError(
            f"It was paid by {sale.method or 'a way not named'}: money given back comes with the "
            "export, and is not entered"
        )
    left = await _left_of(con, shop.shop_id, sale, lines)
    if refund_minor > left:
        raise RejectedInputError(
            f"{to_text(refund_minor, shop.currency)} would be given back, and "
            f"{to_text(left, shop.currency)} is left of what was paid"
        )
    await add_own_refund(con, shop, sale, (refund_minor, None), day=day, now=now)
    await sales.change_sale(con, shop.shop_id, sale.id, {})


async def _left_of(
    con: Connection, shop_id: UUID, sale: sales.Sale, lines: Sequence[sales.SaleLine]
) -> int:
    """What was paid for a sale's lines, less what was given back and entered here."""
    before = await own_evidence.given_back(con, shop_id, sale)
    return max(0, _gross(sale, lines) + sale.cash_rounding_minor - before)


def _day_of_return(
    shop: Shop, sale: sales.Sale, on: dt.date | None, now: dt.datetime
) -> dt.date | None:
    """Give the day where it is another than today."""
    today = now.astimezone(ZoneInfo(shop.time_zone)).date()
    if on is not None and not sale.sold_on <= on <= today:
        raise RejectedInputError(
            f"It was sold on {sale.sold_on} and cannot be back on {on}; today is {today}"
        )
    return None if on == today else on


def _paid_for(
    shop: Shop, sale: sales.Sale, kept: Sequence[sales.SaleLine], back: Sequence[sales.SaleLine]
) -> tuple[int, int | None]:
    """Say what lines cost the customer and the tax within, by what the sale costs without them."""
    rest = [line for line in kept if line not in back]
    gross = [_gross(sale, lines) for lines in (kept, rest)]
    if sale.method == "cash" and shop.cash_step_minor:
        gross = [round_to_step(amount, shop.cash_step_minor) for amount in gross]
    tax = None if sale.tax_minor is None else sum(line.tax_minor or 0 for line in back)
    return gross[0] - gross[1], tax


def _gross(sale: sales.Sale, lines: Sequence[sales.SaleLine]) -> int:
    on_top = sum(line.tax_minor or 0 for line in lines) if sale.tax_added else 0
    return sum(line.price_minor for line in lines) + on_top


async def _open(con: Connection, shop_id: UUID, sale_id: UUID, expected: Expected) -> WholeSale:
    sale = await sales.lock_sale(con, shop_id, sale_id)
    if sale is None:
        raise SaleNotFoundError(f"There is no sale {sale_id}")
    expected.check(sale.version)
    if sale.state == "void":
        raise SaleIsVoidError("It was taken back before")
    return sale, (await sales.lines_of(con, shop_id, [sale_id]))[sale_id]
