"""Take a sale back: void it as if it had never been, or take single pieces back for money."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from uuid import UUID

from stallkeep.domain.errors import RejectedInputError
from stallkeep.domain.tax import round_to_step
from stallkeep.store import own_evidence, sales
from stallkeep.store.connection import Connection
from stallkeep.store.joined_sales import part_company
from stallkeep.store.shops import Shop
from stallkeep.work.own_payment import OWN_METHODS, add_own_refund
from stallkeep.work.stock_errors import SaleIsVoidError, SaleNotFoundError, SaleOfMatchError
from stallkeep.work.versions import Expected

WholeSale = tuple[sales.Sale, list[sales.SaleLine]]


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
    if any(line.state == "returned" for line in lines):
        raise SaleIsVoidError("Pieces of it came back already; return the others instead")
    await sales.give_back(con, shop.shop_id, sale_id, [line.line_no for line in lines])
    if sale.transaction_id is not None:
        await part_company(con, shop.shop_id, [sale.transaction_id], "its sale was taken back")
    await own_evidence.release_payment(con, shop.shop_id, sale, "its sale was taken back")
    await sales.change_sale(con, shop.shop_id, sale_id, {"state": "void"})
    return await read_sale(con, shop.shop_id, sale_id)


async def return_lines(  # noqa: PLR0917 - one of them is the clock
    con: Connection,
    shop: Shop,
    sale_id: UUID,
    line_nos: Sequence[int],
    refund_minor: int | None,
    expected: Expected,
    now: dt.datetime,
) -> WholeSale:
    """Take pieces back into stock and give money back.

    Money given back in cash and the like is written as a refund; one to a card comes with the
    export. Without *refund_minor* what the lines cost the customer is given back: price, tax on
    top of it, and the rounding of cash, so that the whole sale returned in parts gives the whole.

    Raises:
        SaleNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
        SaleOfMatchError: It was made from a match.
        SaleIsVoidError: It is void.
        RejectedInputError: A line is not there or is back already, or the refund is too high.
    """
    sale, lines = await _open(con, shop.shop_id, sale_id, expected)
    wanted = [line for line in lines if line.line_no in set(line_nos)]
    if len(wanted) != len(set(line_nos)) or any(line.state != "sold" for line in wanted):
        raise RejectedInputError("A line is not of this sale, or is back already")
    kept = [line for line in lines if line.state == "sold"]
    most, tax = _paid_for(shop, sale, kept, wanted)
    refund = most if refund_minor is None else refund_minor
    if not 0 <= refund <= most:
        raise RejectedInputError("More would be given back than was paid for these lines")
    await sales.give_back(con, shop.shop_id, sale_id, [line.line_no for line in wanted])
    if refund and sale.method in OWN_METHODS:
        await add_own_refund(con, shop, sale, (refund, tax if refund == most else None), now)
    await sales.change_sale(con, shop.shop_id, sale_id, {})
    return await read_sale(con, shop.shop_id, sale_id)


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
    if sale.origin == "match":
        raise SaleOfMatchError("It was made from a payment's match: refuse that instead")
    if sale.state == "void":
        raise SaleIsVoidError("It was taken back before")
    return sale, (await sales.lines_of(con, shop_id, [sale_id]))[sale_id]
