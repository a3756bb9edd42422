"""Sales, however they came about: see them, take one back, take pieces back."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal
from uuid import UUID

from litestar import Response, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody, QueryParameter
from msgspec import Meta

from stallkeep.api.answers import versioned
from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.fee_terms import percent_of
from stallkeep.api.pages import DEFAULT_LIMIT, Cursor, Limit, Page, page, read_cursor
from stallkeep.api.schemas import Body, Moment, Price, View, minor, shown
from stallkeep.api.strictness import StrictRequest
from stallkeep.domain.money import to_text
from stallkeep.store import sales as store
from stallkeep.work import take_sale_back as work
from stallkeep.work.versions import Expected

Method = Literal["card", "cash", "online", "transfer", "other"]
SomeLines = Annotated[list[Annotated[int, Meta(ge=1, le=1000)]], Meta(max_length=200)]


class SaleLine(View):
    """One line: an item of the stock or an untagged piece. The price is for all of the line.

    `tax` is the line's part of the sale's tax, on top of the price where the sale says
    `tax_added`, else within it; null where none was worked out.
    """

    line_no: int
    item_id: UUID | None
    tag_code: str | None
    title: str | None
    quantity: int
    price: Price
    tax: str | None
    state: Literal["sold", "returned"]


class SaleTax(View):
    """The tax of a sale at one of the shop's rates."""

    name: str
    percent: str
    tax: str


class Sale(View):
    """What was sold to one customer; without `transaction_id` its payment has not come yet.

    `total` is what the customer pays: the lines, tax where it is added on top, and, in cash, the
    rounding to the smallest coin. Arithmetic on what was entered, not tax advice.
    """

    id: UUID
    channel_id: UUID
    event_id: UUID | None
    origin: Literal["stall", "typed", "match"]
    method: Method | None
    total: str
    tax: str | None
    tax_added: bool
    taxes: list[SaleTax]
    cash_rounding: str
    sold_at: Moment | None
    sold_on: dt.date
    state: Literal["done", "void"]
    transaction_id: UUID | None
    note: str | None
    lines: list[SaleLine]
    created_at: Moment


class Return(Body):
    """Lines that came back; without `refund` their price is given back, without a day today."""

    lines: SomeLines
    refund: Price | None = None
    returned_on: dt.date | None = None


def sale_view(sale: store.Sale, lines: list[store.SaleLine], caller: Caller) -> Sale:
    """Show a sale with its lines."""
    currency = caller.shop.currency
    taxes = [
        SaleTax(
            name=tax["name"],
            percent=percent_of(tax["rate_ppm"]),
            tax=to_text(tax["tax_minor"], currency),
        )
        for tax in sale.taxes
    ]
    listed = [shown(SaleLine, line, currency) for line in lines]
    return shown(Sale, sale, currency, lines=listed, taxes=taxes)


def _answer(whole: work.WholeSale, caller: Caller) -> Response[Sale]:
    return versioned(sale_view(*whole, caller), whole[0].version)


@get("/v1/sales", operation_id="listSales", tags=["sales"], opt=FOR_HELPERS)
async def list_sales(
    request: StrictRequest,
    caller: NamedDependency[Caller],
    event: Annotated[UUID | None, QueryParameter(description="Id of an event")] = None,
    channel: Annotated[UUID | None, QueryParameter(description="Id of a channel")] = None,
    from_on: Annotated[dt.date | None, QueryParameter(name="from", description="First day")] = None,
    to_on: Annotated[dt.date | None, QueryParameter(name="to", description="Last day")] = None,
    payment: Annotated[
        Literal["waiting", "known"] | None, QueryParameter(description="Whether it has come")
    ] = None,
    limit: Limit = DEFAULT_LIMIT,
    cursor: Cursor = None,
) -> Response[Page[Sale]]:
    """List the sales, the latest first."""
    after = read_cursor(cursor, tuple[dt.date, UUID])
    filters: dict[str, Any] = {
        "event_id": event,
        "channel_id": channel,
        "from_on": from_on,
        "to_on": to_on,
        "payment": payment,
    }
    shop_id = caller.shop.shop_id
    async with caller.read_scope() as con:
        rows = await store.list_sales(con, shop_id, filters, after=after, limit=limit)
        lines = await store.lines_of(con, shop_id, [row.id for row in rows])
    return page(
        request,
        rows,
        limit,
        lambda row: sale_view(row, lines[row.id], caller),
        lambda row: (row.sold_on, row.id),
    )


@get("/v1/sales/{sale_id:uuid}", operation_id="readSale", tags=["sales"], opt=FOR_HELPERS)
async def read_sale(sale_id: FromPath[UUID], caller: NamedDependency[Caller]) -> Response[Sale]:
    """Read one sale."""
    async with caller.read_scope() as con:
        return _answer(await work.read_sale(con, caller.shop.shop_id, sale_id), caller)


@post(
    "/v1/sales/{sale_id:uuid}/void",
    operation_id="voidSale",
    tags=["sales"],
    opt=FOR_HELPERS,
    status_code=200,
)
async def void_sale(
    sale_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> Response[Sale]:
    """Take back a sale entered by mistake, as if it had never been."""
    async with caller.scope() as con:
        return _answer(await work.void_sale(con, caller.shop, sale_id, expected), caller)


@post(
    "/v1/sales/{sale_id:uuid}/returns",
    operation_id="returnLines",
    tags=["sales"],
    opt=FOR_HELPERS,
    status_code=200,
)
async def return_lines(
    sale_id: FromPath[UUID],
    data: JSONBody[Return],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> Response[Sale]:
    """Take pieces back into stock and give money back: what they cost the customer, or less.

    Of a sale made from a payment's match the money is left to the exports (or the cash tally),
    which tell of the refund; name `refund` where none of them does. With no line and a `refund`
    money is given back for what the customer keeps.
    """
    refund = None
    if data.refund is not None:
        refund = minor(data.refund, caller.shop.currency, ("refund",))
    back = work.Back(
        line_nos=data.lines, refund_minor=refund, on=data.returned_on, said_by=caller.name
    )
    now = dt.datetime.now(dt.UTC)
    async with caller.scope() as con:
        whole = await work.return_lines(con, caller.shop, sale_id, back, expected, now=now)
    return _answer(whole, caller)


ROUTES = (list_sales, read_sale, void_sale, return_lines)
