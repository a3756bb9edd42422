"""The shop itself."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal
from uuid import UUID

from litestar import Response, get, patch
from litestar.di import NamedDependency
from litestar.params import JSONBody
from msgspec import UNSET, Meta, UnsetType

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.fee_terms import Percent, percent_of, ppm_of
from stallkeep.api.schemas import Body, Moment, Price, Title, View, Word, entered, shown
from stallkeep.api.versions import etag
from stallkeep.domain.tax_terms import TaxTerms, terms_on
from stallkeep.store import shops
from stallkeep.work.change_shop import change_shop
from stallkeep.work.shop_tax import tax_terms
from stallkeep.work.versions import Expected

Language = Annotated[str, Meta(pattern="^[a-z]{2}$", description="ISO 639-1", examples=["en"])]
TaxMode = Literal["none", "included", "added"]
RoundPer = Literal["line", "receipt"]


class TaxRate(Body):
    """One part of the sales tax: a country's, a region's."""

    name: Word
    percent: Percent


class TaxPeriod(View):
    """How tax is dealt with from a day on, to the next period's; null from the beginning."""

    from_on: dt.date | None
    mode: TaxMode
    rates: list[TaxRate]
    round_per: RoundPer
    parts_apart: bool
    reclaims_tax: bool


class Shop(View):
    """The seller's business. Its currency and id never change.

    What it says of tax holds today; `tax_periods` lists what held before and what is to come.
    """

    id: UUID
    name: str
    currency: str
    time_zone: str
    languages: list[str]
    match_threshold: float
    tax_mode: TaxMode
    tax_rates: list[TaxRate]
    tax_round_per: RoundPer
    tax_parts_apart: bool
    reclaims_tax: bool
    tax_periods: list[TaxPeriod]
    cash_step: str | None
    created_at: Moment


class ShopChanges(Body):
    """What to change; what is left out stays.

    What is said of tax holds from the day `tax_from` on, without one from today on; to the next
    day on which other terms begin. The first terms of a shop without any money hold from the
    beginning.
    """

    name: Title | UnsetType = UNSET
    time_zone: Annotated[Word, Meta(description="IANA name")] | UnsetType = UNSET
    languages: Annotated[list[Language], Meta(min_length=1, max_length=20)] | UnsetType = UNSET
    match_threshold: Annotated[float, Meta(gt=0.5, le=1)] | UnsetType = UNSET
    tax_mode: TaxMode | UnsetType = UNSET
    tax_rates: Annotated[list[TaxRate], Meta(max_length=10)] | UnsetType = UNSET
    tax_round_per: RoundPer | UnsetType = UNSET
    tax_parts_apart: bool | UnsetType = UNSET
    reclaims_tax: bool | UnsetType = UNSET
    tax_from: dt.date | UnsetType = UNSET
    cash_step: Price | UnsetType | None = UNSET


def _period(terms: TaxTerms) -> TaxPeriod:
    settings = terms.settings
    return TaxPeriod(
        from_on=terms.from_on,
        mode=settings.mode,
        rates=[TaxRate(name=r.name, percent=percent_of(r.rate_ppm)) for r in settings.rates],
        round_per=settings.round_per,
        parts_apart=settings.parts_apart,
        reclaims_tax=terms.reclaims_tax,
    )


def _answer(row: shops.Shop, today: dt.date) -> Response[Shop]:
    terms = tax_terms(row)
    now = _period(terms_on(terms, today))
    view = shown(
        Shop,
        row,
        row.currency,
        id=row.shop_id,
        tax_mode=now.mode,
        tax_rates=now.rates,
        tax_round_per=now.round_per,
        tax_parts_apart=now.parts_apart,
        reclaims_tax=now.reclaims_tax,
        tax_periods=[_period(one) for one in terms],
    )
    return Response(view, headers={"ETag": etag(row.version)})


@get("/v1/shop", operation_id="readShop", tags=["shop"], opt=FOR_HELPERS)
async def read_shop(caller: NamedDependency[Caller]) -> Response[Shop]:
    """Read the shop this token belongs to."""
    return _answer(caller.shop, caller.today())


@patch("/v1/shop", operation_id="changeShop", tags=["shop"])
async def patch_shop(
    data: JSONBody[ShopChanges],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> Response[Shop]:
    """Change the shop's name, zone, languages, threshold or how it deals with sales tax.

    Nothing here is a tax return: ask the local tax authority or a licensed professional.
    """
    values = entered(data, caller.shop.currency)
    if data.tax_rates is not UNSET:
        values["tax_rates"] = [
            {"name": rate.name, "rate_ppm": ppm_of(rate.percent)} for rate in data.tax_rates
        ]
    async with caller.scope() as con:
        changed = await change_shop(
            con, caller.shop.shop_id, values, expected, today=caller.today()
        )
    return _answer(changed, caller.today())


ROUTES = (read_shop, patch_shop)
