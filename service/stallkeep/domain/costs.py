"""Costs that have to be worked out: driving, costs shared by events, average cost of a piece.

Distances are whole tenths of a kilometre or mile.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Literal

import msgspec

from stallkeep.domain.errors import MileageRateError, StockLotError
from stallkeep.domain.money import apportion, half_up

TENTHS = 10
THOUSANDTHS = 1000


class MileageBand(msgspec.Struct, frozen=True, kw_only=True):
    """A rate from a yearly distance on.

    Attributes:
        from_units: First whole kilometre or mile of the year after which it applies; 0 first.
        rate_thousandths: Thousandths of a minor unit per kilometre or mile: 55.5 cents is 55_500.
    """

    from_units: int
    rate_thousandths: int


class MileageRate(msgspec.Struct, frozen=True, kw_only=True):
    """A rate for driving, as an authority published it or the shop set it.

    Attributes:
        name: "US business", "UK car", or the shop's own words.
        unit: "km" or "mile".
        currency: Of the rate.
        valid_from: First day.
        valid_until: Last day; None while no end is known.
        bands: By rising distance, the first from 0.
        source: Where the rate was read.
    """

    name: str
    unit: Literal["km", "mile"]
    currency: str
    valid_from: dt.date
    bands: tuple[MileageBand, ...]
    source: str
    valid_until: dt.date | None = None

    def __post_init__(self) -> None:
        starts = [band.from_units for band in self.bands]
        if not starts or starts[0] != 0 or sorted(set(starts)) != starts:
            raise MileageRateError(f"the bands of {self.name!r} must rise from 0")


class Lot(msgspec.Struct, frozen=True, kw_only=True):
    """Pieces of one kind bought or made together.

    Attributes:
        quantity: Pieces, at least 1.
        cost_minor: Cost of all of them.
    """

    quantity: int
    cost_minor: int


def rate_on(rates: Iterable[MileageRate], name: str, day: dt.date) -> MileageRate:
    """Find the rate of that name valid on a day; of several the one that began last.

    Raises:
        MileageRateError: None was valid then. The nearest rate is not taken for it.
    """
    valid = [
        rate
        for rate in rates
        if rate.name == name
        and rate.valid_from <= day
        and (rate.valid_until is None or day <= rate.valid_until)
    ]
    if not valid:
        raise MileageRateError(f"no mileage rate {name!r} is known for {day}")
    return max(valid, key=lambda rate: rate.valid_from)


def driving_cost(rate: MileageRate, distance_tenths: int, driven_before_tenths: int = 0) -> int:
    """Work out the cost of driving in minor units, half up.

    Args:
        rate: The rate of the day of the trip.
        distance_tenths: There and back; not negative.
        driven_before_tenths: Driven at this rate earlier in the same year, for rates that change
            with the yearly distance.
    """
    start, end = driven_before_tenths, driven_before_tenths + distance_tenths
    ends = [band.from_units * TENTHS for band in rate.bands[1:]] + [end]
    thousandths = 0
    for band, band_end in zip(rate.bands, ends, strict=True):
        low, high = max(start, band.from_units * TENTHS), min(end, max(band_end, start))
        thousandths += max(0, high - low) * band.rate_thousandths
    return half_up(thousandths, TENTHS * THOUSANDTHS)


def shared_cost(amount_minor: int, weights: Sequence[int]) -> list[int]:
    """Share one cost over several events, by days, distance or whatever the weights are.

    Raises:
        UnsplittableAmountError: No weights, all zero, or a negative one.
    """
    return apportion(amount_minor, weights)


def average_cost(lots: Sequence[Lot], quantity: int) -> int:
    """Work out the cost of some pieces of a kind held in number, by their weighted average.

    The average is not rounded on the way: only the result is, half up.

    Raises:
        StockLotError: The lots hold fewer pieces.
    """
    held = sum(lot.quantity for lot in lots)
    if not 0 <= quantity <= held:
        raise StockLotError(f"{quantity} pieces asked for, {held} held")
    if held == 0:
        return 0
    return half_up(sum(lot.cost_minor for lot in lots) * quantity, held)
