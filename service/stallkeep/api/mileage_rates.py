"""Published rates for driving, as far as they are known here."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from litestar import get
from litestar.params import QueryParameter

from stallkeep.api.pages import Page
from stallkeep.api.schemas import View
from stallkeep.api.trips import DistanceUnit, Rate
from stallkeep.domain.mileage import MileageRate, is_valid, rate_text
from stallkeep.domain.mileage_rates import MILEAGE_RATES


class MileageBand(View):
    """What a kilometre or mile is worth once so many were driven in a year."""

    beyond: int
    rate: Rate


class PublishedRate(View):
    """A published rate; its year of driving begins on `year_from` (month and day)."""

    name: str
    currency: str
    unit: DistanceUnit
    valid_from: dt.date
    valid_until: dt.date | None
    year_from: str
    bands: list[MileageBand]
    source: str


@get("/v1/mileage-rates", operation_id="listMileageRates", tags=["costs"])
async def list_mileage_rates(
    on: Annotated[dt.date | None, QueryParameter(description="Only those valid on a day")] = None,
    currency: Annotated[
        str | None, QueryParameter(pattern="^[A-Z]{3}$", description="Only those in a currency")
    ] = None,
) -> Page[PublishedRate]:
    """List the published rates that a trip can be priced by; not every country's, nor every year's.

    A rate that is not here is entered with the trip. Whether a rate applies to you is for your
    local tax authority or a licensed professional to say.
    """
    rates = [
        _view(rate)
        for rate in MILEAGE_RATES
        if (on is None or is_valid(rate, on)) and currency in (None, rate.currency)
    ]
    return Page(data=rates, next=None)


def _view(rate: MileageRate) -> PublishedRate:
    month, day = rate.year_from
    return PublishedRate(
        name=rate.name,
        currency=rate.currency,
        unit=rate.unit,
        valid_from=rate.valid_from,
        valid_until=rate.valid_until,
        year_from=f"{month:02d}-{day:02d}",
        bands=[
            MileageBand(
                beyond=band.from_units, rate=rate_text(band.rate_thousandths, rate.currency)
            )
            for band in rate.bands
        ],
        source=rate.source,
    )


ROUTES = (list_mileage_rates,)
