"""Trips on the wire: distances and rates as decimal strings."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Annotated, Literal

from msgspec import Meta

from stallkeep.api.problems import field_error
from stallkeep.api.schemas import Body, Title, View, Word
from stallkeep.domain import mileage, trips
from stallkeep.domain.currencies import minor_units

DistanceUnit = Literal["km", "mi"]
Distance = Annotated[
    str,
    Meta(
        pattern=r"^-?[0-9]{1,6}(\.[0-9])?$(?!\n)",
        description="Kilometres or miles, with a tenth at most",
        examples=["126.4"],
    ),
]
Rate = Annotated[
    str,
    Meta(
        pattern=r"^-?[0-9]{1,5}(\.[0-9]{1,7})?$(?!\n)",
        description="Amount per kilometre or mile, to a thousandth of the smallest coin",
        examples=["0.555"],
    ),
]


class TripBody(Body):
    """A distance, there and back, in place of an amount.

    Either a `rate` of your own with its source and the day it holds from, or a published rate:
    without `published` the only one in the shop's currency per `unit`. Where that changes with
    the distance of a year, the shop's trips on earlier days were driven before this one, unless
    `driven_before` says otherwise; whatever trips come, change or go, the others follow.
    """

    distance: Distance
    unit: DistanceUnit
    rate: Rate | None = None
    rate_source: Title | None = None
    rate_from: dt.date | None = None
    published: Word | None = None
    driven_before: Distance | None = None


class TripPart(View):
    """A stretch at one rate."""

    distance: Distance
    rate: Rate


class Trip(View):
    """How a cost came from a distance; `explained` is the sum in words."""

    distance: Distance
    unit: DistanceUnit
    driven_on: dt.date | None
    rate_source: str
    rate_from: dt.date
    published: str | None
    driven_before: Distance
    parts: list[TripPart]
    explained: str


def read_trip(trip: TripBody, currency: str) -> trips.NewTrip:
    """Take a trip as entered.

    Raises:
        InvalidInputError: The rate is finer than a thousandth of the smallest coin.
    """
    return trips.NewTrip(
        distance_tenths=_tenths(trip.distance),
        unit=trip.unit,
        rate_thousandths=None if trip.rate is None else _thousandths(trip.rate, currency),
        rate_source=trip.rate_source,
        rate_from=trip.rate_from,
        published=trip.published,
        driven_before_tenths=None if trip.driven_before is None else _tenths(trip.driven_before),
    )


def show_trip(trip: trips.Trip, currency: str) -> Trip:
    """Show a trip as it is stored."""
    return Trip(
        distance=mileage.distance_text(trip.distance_tenths),
        unit=trip.unit,
        driven_on=trip.driven_on,
        rate_source=trip.source,
        rate_from=trip.rate_from,
        published=trip.published,
        driven_before=mileage.distance_text(trip.driven_before_tenths),
        parts=[
            TripPart(
                distance=mileage.distance_text(part.distance_tenths),
                rate=mileage.rate_text(part.rate_thousandths, currency),
            )
            for part in trip.parts
        ],
        explained=trip.words(currency),
    )


def _tenths(text: str) -> int:
    return int(Decimal(text) * mileage.TENTHS)


def _thousandths(text: str, currency: str) -> int:
    exact = Decimal(text).scaleb(minor_units(currency) + 3)
    if exact != int(exact):
        raise field_error(
            f"Expected a rate to a thousandth of the smallest coin of {currency}",
            ("trip", "rate"),
        )
    return int(exact)
