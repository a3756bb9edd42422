"""Rates for driving: the one that holds on a day, and what a distance costs at it.

Distances are whole tenths of a kilometre or mile. A rate is in thousandths of a minor unit per
kilometre or mile: 55.5 cents is 55_500.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Literal, TypeAlias

import msgspec

from stallkeep.domain.currencies import minor_units
from stallkeep.domain.errors import MileageRateError
from stallkeep.domain.money import half_up

TENTHS = 10
THOUSANDTHS = 1000

DistanceUnit: TypeAlias = Literal["km", "mi"]


class MileageBand(msgspec.Struct, frozen=True, kw_only=True):
    """A rate from a yearly distance on.

    Attributes:
        from_units: First whole kilometre or mile of the year after which it applies; 0 first.
        rate_thousandths: Per kilometre or mile.
    """

    from_units: int
    rate_thousandths: int


class MileageRate(msgspec.Struct, frozen=True, kw_only=True):
    """A rate for driving, as an authority published it or the shop set it.

    Attributes:
        name: "US business", "UK car", or the shop's own words.
        unit: "km" or "mi".
        currency: Of the rate.
        valid_from: First day.
        valid_until: Last day; None while no end is known.
        bands: By rising distance, the first from 0.
        source: Where the rate was read.
        year_from: Month and day on which the yearly distance begins anew.
    """

    name: str
    unit: DistanceUnit
    currency: str
    valid_from: dt.date
    bands: tuple[MileageBand, ...]
    source: str
    valid_until: dt.date | None = None
    year_from: tuple[int, int] = (1, 1)

    def __post_init__(self) -> None:
        starts = [band.from_units for band in self.bands]
        if not starts or starts[0] != 0 or sorted(set(starts)) != starts:
            raise MileageRateError(f"the bands of {self.name!r} must rise from 0")

    def year_of(self, day: dt.date) -> tuple[dt.date, dt.date]:
        """Tell the first and the last day of the year in which distances add up."""
        month, first = self.year_from
        year = day.year if (day.month, day.day) >= self.year_from else day.year - 1
        end = dt.date(year + 1, month, first) - dt.timedelta(days=1)
        return dt.date(year, month, first), end


class DrivenPart(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch of a trip at one rate."""

    distance_tenths: int
    rate_thousandths: int


def rate_on(rates: Iterable[MileageRate], name: str, day: dt.date) -> MileageRate:
    """Find the rate of that name valid on a day; of several the one that began last.

    Raises:
        MileageRateError: None was valid then. The nearest rate is not taken for it.
    """
    valid = [rate for rate in rates if rate.name == name and is_valid(rate, day)]
    if not valid:
        raise MileageRateError(
            f"No rate {name!r} is known for {day}. Give the rate, its source and the day it holds "
            "from."
        )
    return max(valid, key=lambda rate: rate.valid_from)


def published_rate(
    rates: Iterable[MileageRate],
    day: dt.date,
    *,
    currency: str,
    unit: DistanceUnit,
    name: str | None = None,
) -> MileageRate:
    """Find the published rate of a shop's trip.

    Args:
        rates: All that are published.
        day: Of the trip.
        currency: The shop's; a rate in another is none for it.
        unit: What the distance is in.
        name: Which rate; None for the only one in this currency and unit.

    Raises:
        MileageRateError: None is known for this currency, unit, name and day.
    """
    rates = tuple(rates)
    fitting = [rate for rate in rates if (rate.currency, rate.unit) == (currency, unit)]
    names = sorted({rate.name for rate in fitting})
    if name is None and len(names) == 1:
        [name] = names
    if name not in names:
        asked = f" named {name!r}" if name else ""
        raise MileageRateError(
            f"No published rate{asked} in {currency} per {unit} is known."
            f"{_known_in(rates, currency)} Give the rate, its source and the day it holds from."
        )
    return rate_on(fitting, name, day)


def _known_in(rates: Iterable[MileageRate], currency: str) -> str:
    known = sorted({f"{rate.name} per {rate.unit}" for rate in rates if rate.currency == currency})
    return f" Known in {currency}: {', '.join(known)}." if known else ""


def is_valid(rate: MileageRate, day: dt.date) -> bool:
    """Tell whether a rate holds on a day."""
    return rate.valid_from <= day and (rate.valid_until is None or day <= rate.valid_until)


def driven_parts(
    rate: MileageRate, distance_tenths: int, driven_before_tenths: int = 0
) -> tuple[DrivenPart, ...]:
    """Cut a trip by the bands of a rate; bands it does not touch are left out.

    Args:
        rate: The rate of the day of the trip.
        distance_tenths: There and back; not negative.
        driven_before_tenths: Driven at this rate earlier in the same year.
    """
    start, end = driven_before_tenths, driven_before_tenths + distance_tenths
    ends = [band.from_units * TENTHS for band in rate.bands[1:]] + [end]
    parts = []
    for band, band_end in zip(rate.bands, ends, strict=True):
        low, high = max(start, band.from_units * TENTHS), min(end, max(band_end, start))
        if high > low:
            parts.append(
                DrivenPart(distance_tenths=high - low, rate_thousandths=band.rate_thousandths)
            )
    return tuple(parts)


def cost_of(parts: Iterable[DrivenPart]) -> int:
    """Work out distance x rate in minor units, half up, once for the whole trip."""
    whole = sum(part.distance_tenths * part.rate_thousandths for part in parts)
    return half_up(whole, TENTHS * THOUSANDTHS)


def distance_text(tenths: int) -> str:
    """Write a distance: 1264 is "126.4", 1200 is "120"."""
    whole, tenth = divmod(tenths, TENTHS)
    return f"{whole}.{tenth}" if tenth else str(whole)


def rate_text(thousandths: int, currency: str) -> str:
    """Write a rate with at least the currency's decimals: 55_500 of USD is "0.555"."""
    digits = minor_units(currency)
    whole, part = divmod(thousandths, THOUSANDTHS * 10**digits)
    decimals = f"{part:0{digits + 3}d}"
    kept = max(digits, len(decimals.rstrip("0")))
    return f"{whole}.{decimals[:kept]}" if kept else str(whole)
