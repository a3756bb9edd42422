"""What a customer would pay: lines, sales tax, cash rounding, and what to key in."""

from __future__ import annotations

from typing import Annotated, Literal
from uuid import UUID

from litestar import post
from litestar.di import NamedDependency
from litestar.params import JSONBody
from msgspec import Meta

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.fee_terms import percent_of, ppm_of
from stallkeep.api.items import Code
from stallkeep.api.problems import field_error
from stallkeep.api.sales import Method, SaleTax
from stallkeep.api.schemas import Body, Price, Quantity, Title, View, minor, shown
from stallkeep.api.shop import RoundPer, TaxMode, TaxRate
from stallkeep.domain import tax
from stallkeep.domain.money import to_text
from stallkeep.work import quote_receipt as work
from stallkeep.work.references import Named


class NewReceiptLine(Body):
    """A piece by tag code or id, or any amount; the price is for all of the line.

    Without a price it is the piece's own, times the quantity.
    """

    tag_code: Code | None = None
    item_id: UUID | None = None
    title: Title | None = None
    quantity: Quantity = 1
    price: Price | None = None


class TaxTerms(Body):
    """How to deal with sales tax: as the shop's own settings."""

    mode: TaxMode
    rates: Annotated[tuple[TaxRate, ...], Meta(max_length=10)] = ()
    round_per: RoundPer = "receipt"
    parts_apart: bool = False
    cash_step: Price | None = None


class NewReceiptQuote(Body):
    """What is to be paid and how; `tax` tries other terms than the shop's own."""

    lines: Annotated[list[NewReceiptLine], Meta(min_length=1, max_length=200)]
    method: Method = "card"
    tax: TaxTerms | None = None


class ReceiptLine(View):
    """One line; `tax` is its part, on top of the price or within it by `tax_mode`.

    A piece under a margin scheme has no tax worked out.
    """

    tag_code: str | None
    title: str | None
    quantity: int
    price: str
    tax: str
    margin_scheme: bool


class ReceiptQuote(View):
    """A receipt before the sale: total = net + tax, to pay = total + cash rounding.

    `to_pay` is the amount to key in, or to ask for in cash; `advice` says it in words.
    """

    currency: str
    method: Method
    tax_mode: Literal["none", "included", "added"]
    lines: list[ReceiptLine]
    net: str
    taxes: list[SaleTax]
    tax: str
    total: str
    cash_rounding: str
    to_pay: str
    advice: str
    caution: str


@post(
    "/v1/receipt-quotes",
    operation_id="quoteReceipt",
    tags=["sales"],
    opt=FOR_HELPERS,
    status_code=200,
)
async def quote(data: JSONBody[NewReceiptQuote], caller: NamedDependency[Caller]) -> ReceiptQuote:
    """Say what a customer would pay for these lines, with the tax by rate and what to key in.

    Nothing is stored. Arithmetic on what was entered, not tax or accounting advice.
    """
    currency = caller.shop.currency
    asked = work.AskedReceipt(
        lines=[_line(line, place, currency) for place, line in enumerate(data.lines)],
        method=data.method,
        tax=None if data.tax is None else _terms(data.tax, currency),
    )
    async with caller.read_scope() as con:
        found = await work.quote_receipt(con, caller.shop, asked, caller.today())
    return shown(
        ReceiptQuote,
        found,
        currency,
        lines=[shown(ReceiptLine, line, currency) for line in found.lines],
        taxes=[
            SaleTax(
                name=part.name,
                percent=percent_of(part.rate_ppm),
                tax=to_text(part.tax_minor, currency),
            )
            for part in found.taxes
        ],
    )


def _line(line: NewReceiptLine, place: int, currency: str) -> work.AskedLine:
    if line.tag_code is not None and line.item_id is not None:
        raise field_error("Expected tag_code or item_id, not both", ("lines", place))
    is_named = line.tag_code is not None or line.item_id is not None
    at = ("lines", place, "price")
    return work.AskedLine(
        named=Named(item_id=line.item_id, tag_code=line.tag_code) if is_named else None,
        title=line.title,
        quantity=line.quantity,
        price_minor=None if line.price is None else minor(line.price, currency, at),
    )


def _terms(terms: TaxTerms, currency: str) -> tax.TaxSettings:
    step = terms.cash_step
    return tax.TaxSettings(
        mode=terms.mode,
        rates=tuple(tax.TaxRate(name=r.name, rate_ppm=ppm_of(r.percent)) for r in terms.rates),
        round_per=terms.round_per,
        parts_apart=terms.parts_apart,
        cash_step_minor=None if step is None else minor(step, currency, ("tax", "cash_step")),
    )


ROUTES = (quote,)
