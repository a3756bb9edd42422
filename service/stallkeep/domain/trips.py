"""A cost given as a distance: priced by a rate a person stated, or by the published one of its day.

Where a published rate falls with the distance of a year, what was driven before a trip decides. The
trips of a year are gone through by their days, as an odometer would count them (`drive_on`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

import msgspec

from stallkeep.domain.errors import DistanceError, MileageRateError
from stallkeep.domain.mileage import (
    TENTHS,
    DistanceUnit,
    DrivenPart,
    MileageRate,
    cost_of,
    distance_text,
    driven_parts,
    published_rate,
    rate_on,
    rate_text,
)
from stallkeep.domain.money import to_text

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
            shop's own trips.
    """

    distance_tenths: int
    unit: DistanceUnit
    rate_thousandths: int | None = None
    rate_source: str | None = None
    rate_from: dt.date | None = None
    published: str | None = None
    driven_before_tenths: int | None = None


class Trip(msgspec.Struct, frozen=True, kw_only=True):
    """A priced trip, with all that its amount came from.

    Attributes:
        unit: "km" or "mi".
        parts: The trip, there and back, by rate: one part, or more where a rate changes with the
            yearly distance.
        source: Where the rate comes from.
        rate_from: The day it holds from.
        driven_on: The day of the trip; None when it is not known.
        published: Name of the published rate; None for one that was stated.
        driven_before_tenths: Driven at the published rate earlier in its year; 0 where the rate
            does not depend on it.
        before_is_stated: Whether a person said so; False where the shop's trips were added up.
    """

    unit: DistanceUnit
    parts: tuple[DrivenPart, ...]
    source: str
    rate_from: dt.date
    driven_on: dt.date | None = None
    published: str | None = None
    driven_before_tenths: int = 0
    before_is_stated: bool = False

    @property
    def distance_tenths(self) -> int:
        """The whole distance."""
        return sum(part.distance_tenths for part in self.parts)

    @property
    def amount_minor(self) -> int:
        """Distance x rate, half up to the minor unit."""
        return cost_of(self.parts)

    def words(self, currency: str) -> str:
        """Say how the amount comes about, for a pencil."""
        terms = " + ".join(
            f"{distance_text(part.distance_tenths)} {self.unit} x "
            f"{rate_text(part.rate_thousandths, currency)}"
            for part in self.parts
        )
        amount = to_text(self.amount_minor, currency)
        return f"{terms} = {amount} ({self.source}, from {self.rate_from})"


def price_trip(
    new: NewTrip, day: dt.date | None, currency: str, rates: Iterable[MileageRate]
) -> Trip:
    """Price a trip made on a day, as the first of its year unless it says what was driven before.

    Args:
        new: As entered.
        day: Of the trip; None when it is not known.
        currency: Of the shop.
        rates: All that are published.

    Raises:
        DistanceError: The distance is nothing, negative or absurd.
        MileageRateError: The stated rate is not whole or not yet valid, or no published rate is
            known for this currency, unit, name and day.
    """
    _check_distance(new)
    if new.rate_thousandths is None:
        return _by_published_rate(new, day, currency, rates)
    return _by_stated_rate(new, new.rate_thousandths, day)


def asked_again(trip: Trip) -> NewTrip:
    """Make of a priced trip what would have to be entered to get it."""
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


def drive_on(rates: Sequence[MileageRate], trips: Iterable[Trip]) -> list[Trip]:
    """Price the trips of a year one after the other, each by what was driven before it.

    Args:
        rates: All that are published.
        trips: At one published rate, by their days. One that states what was driven before sets
            the count to that, as an odometer read anew.
    """
    driven, priced = 0, []
    for trip in trips:
        before = trip.driven_before_tenths if trip.before_is_stated else driven
        driven = before + trip.distance_tenths
        if trip.published is not None and trip.driven_on is not None:
            rate = rate_on(rates, trip.published, trip.driven_on)
            parts = driven_parts(rate, trip.distance_tenths, before)
            trip = msgspec.structs.replace(trip, parts=parts, driven_before_tenths=before)  # noqa: PLW2901
        priced.append(trip)
    return priced


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


def _by_published_rate(
    new: NewTrip, day: dt.date | None, currency: str, rates: Iterable[MileageRate]
) -> Trip:
    if new.rate_source is not None or new.rate_from is not None:
        raise MileageRateError("rate_source and rate_from belong to a rate of your own: give it")
    if day is None:
        raise MileageRateError(
            "A published rate depends on the day: give spent_on, or the event of the trip"
        )
    rate = published_rate(rates, day, currency=currency, unit=new.unit, name=new.published)
    before = new.driven_before_tenths or 0
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
