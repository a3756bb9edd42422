"""Price a trip: by the rate a person stated, or by the published one of its day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any
from uuid import UUID

import msgspec

from stallkeep.domain.errors import DistanceError, MileageRateError
from stallkeep.domain.mileage import (
    TENTHS,
    DistanceUnit,
    DrivenPart,
    Trip,
    driven_parts,
    published_rate,
)
from stallkeep.domain.mileage_rates import MILEAGE_RATES
from stallkeep.store import costs as store
from stallkeep.store.connection import Connection
from stallkeep.store.shops import Shop

LONGEST = 100_000
"""Kilometres or miles of one entry: more is a slip of the finger."""


class NewTrip(msgspec.Struct, frozen=True, kw_only=True):
    """A trip as entered: a stated rate with its source and first day, or a published one.

    Attributes:
        distance_tenths: There and back.
        unit: "km" or "mi".
        rate_thousandths: Stated; None takes the published rate.
        rate_source: Where a stated rate comes from.
        rate_from: The day a stated rate holds from.
        published: Name of the published rate; None for the only one that fits the shop.
        driven_before_tenths: Driven at the published rate earlier in its year; None adds up the
            trips that the shop has entered.
    """

    distance_tenths: int
    unit: DistanceUnit
    rate_thousandths: int | None = None
    rate_source: str | None = None
    rate_from: dt.date | None = None
    published: str | None = None
    driven_before_tenths: int | None = None


def asked_again(trip: Trip) -> NewTrip:
    """Make of a stored trip what would have to be entered to get it."""
    if trip.published is None:
        return NewTrip(
            distance_tenths=trip.distance_tenths,
            unit=trip.unit,
            rate_thousandths=trip.parts[0].rate_thousandths,
            rate_source=trip.source,
            rate_from=trip.rate_from,
        )
    return NewTrip(
        distance_tenths=trip.distance_tenths,
        unit=trip.unit,
        published=trip.published,
        driven_before_tenths=trip.driven_before_tenths if trip.before_is_stated else None,
    )


def stored_trip(values: Mapping[str, Any] | None) -> Trip | None:
    """Read a cost's trip as it is stored."""
    return None if values is None else msgspec.convert(values, Trip)


async def price_trip(
    con: Connection, shop: Shop, new: NewTrip, day: dt.date | None, cost_id: UUID | None = None
) -> Trip:
    """Price a trip made on a day.

    Where a published rate changes with the distance of a year, all trips entered so far at that
    rate and in its year were driven before this one, whatever their day: so the year's sum is
    right in whichever order trips are entered.

    Args:
        con: In the shop's scope.
        shop: Whose trip.
        new: As entered.
        day: Of the trip; None when it is not known.
        cost_id: The cost it belongs to, if that is stored already.

    Raises:
        DistanceError: The distance is nothing, negative or absurd.
        MileageRateError: The stated rate is not whole or not yet valid, or no published rate is
            known for this shop, unit, name and day.
    """
    _check_distance(new)
    if new.rate_thousandths is None:
        return await _by_published_rate(con, shop, new, day, cost_id)
    return _by_stated_rate(new, new.rate_thousandths, day)


def _check_distance(new: NewTrip) -> None:
    if new.distance_tenths <= 0:
        raise DistanceError("A distance is more than 0: there and back, as driven")
    before = new.driven_before_tenths or 0
    if before < 0:
        raise DistanceError("What was driven before is not less than 0")
    if max(new.distance_tenths, before) > LONGEST * TENTHS:
        raise DistanceError(f"A distance is at most {LONGEST} {new.unit}")


def _by_stated_rate(new: NewTrip, rate_thousandths: int, day: dt.date | None) -> Trip:
    if rate_thousandths <= 0:
        raise MileageRateError("A rate is more than 0")
    if new.published is not None or new.driven_before_tenths is not None:
        raise MileageRateError(
            "Give a rate of your own, or the name of a published one and what was driven before; "
            "not both"
        )
    if not new.rate_source or new.rate_from is None:
        raise MileageRateError(
            "A rate of your own needs its source (rate_source) and the day it holds from "
            "(rate_from)"
        )
    if day is not None and day < new.rate_from:
        raise MileageRateError(f"The rate holds from {new.rate_from}; the trip was on {day}")
    part = DrivenPart(distance_tenths=new.distance_tenths, rate_thousandths=rate_thousandths)
    return Trip(
        unit=new.unit,
        parts=(part,),
        source=new.rate_source,
        rate_from=new.rate_from,
        driven_on=day,
    )


async def _by_published_rate(
    con: Connection, shop: Shop, new: NewTrip, day: dt.date | None, cost_id: UUID | None
) -> Trip:
    if new.rate_source is not None or new.rate_from is not None:
        raise MileageRateError("rate_source and rate_from belong to a rate of your own: give it")
    if day is None:
        raise MileageRateError(
            "A published rate depends on the day: give spent_on, or the event of the trip"
        )
    rate = published_rate(
        MILEAGE_RATES, day, currency=shop.currency, unit=new.unit, name=new.published
    )
    before = new.driven_before_tenths
    if before is None:
        before = await store.driven_tenths(
            con, shop.shop_id, (rate.name, rate.unit), rate.year_of(day), cost_id
        )
    return Trip(
        unit=rate.unit,
        parts=driven_parts(rate, new.distance_tenths, before),
        source=rate.source,
        rate_from=rate.valid_from,
        driven_on=day,
        published=rate.name,
        driven_before_tenths=before,
        before_is_stated=new.driven_before_tenths is not None,
    )
