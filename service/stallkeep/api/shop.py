"""The shop itself."""

from __future__ import annotations

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
from stallkeep.store import shops
from stallkeep.work.change_shop import change_shop
from stallkeep.work.versions import Expected

Language = Annotated[str, Meta(pattern="^[a-z]{2}$", description="ISO 639-1", examples=["en"])]
TaxMode = Literal["none", "included", "added"]
RoundPer = Literal["line", "receipt"]


class TaxRate(Body):
    """One part of the sales tax: a country's, a region's."""

    name: Word
    percent: Percent


class Shop(View):
    """The seller's business. Its currency and id never change."""

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
    cash_step: str | None
    created_at: Moment


class ShopChanges(Body):
    """What to change; what is left out stays."""

    name: Title | UnsetType = UNSET
    time_zone: Annotated[Word, Meta(description="IANA name")] | UnsetType = UNSET
    languages: Annotated[list[Language], Meta(min_length=1, max_length=20)] | UnsetType = UNSET
    match_threshold: Annotated[float, Meta(gt=0.5, le=1)] | UnsetType = UNSET
    tax_mode: TaxMode | UnsetType = UNSET
    tax_rates: Annotated[list[TaxRate], Meta(max_length=10)] | UnsetType = UNSET
    tax_round_per: RoundPer | UnsetType = UNSET
    tax_parts_apart: bool | UnsetType = UNSET
    reclaims_tax: bool | UnsetType = UNSET
    cash_step: Price | UnsetType | None = UNSET


def _answer(row: shops.Shop) -> Response[Shop]:
    rates = [
        TaxRate(name=rate["name"], percent=percent_of(rate["rate_ppm"])) for rate in row.tax_rates
    ]
    view = shown(Shop, row, row.currency, id=row.shop_id, tax_rates=rates)
    return Response(view, headers={"ETag": etag(row.version)})


@get("/v1/shop", operation_id="readShop", tags=["shop"], opt=FOR_HELPERS)
async def read_shop(caller: NamedDependency[Caller]) -> Response[Shop]:
    """Read the shop this token belongs to."""
    return _answer(caller.shop)


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
        return _answer(await change_shop(con, caller.shop.shop_id, values, expected))


ROUTES = (read_shop, patch_shop)
