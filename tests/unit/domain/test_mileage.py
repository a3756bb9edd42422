"""Driving against published figures, and a trip's own sum."""

from __future__ import annotations

import datetime as dt

import pytest

from stallkeep.domain.errors import MileageRateError
from stallkeep.domain.mileage import (
    MileageBand,
    MileageRate,
    cost_of,
    driven_parts,
    published_rate,
    rate_on,
    rate_text,
)
from stallkeep.domain.mileage_rates import CANADA, MILEAGE_RATES, UK, US
from stallkeep.domain.trips import NewTrip, Trip, drive_on, price_trip


def cost_on(name: str, day: dt.date, units: int, before: int = 0) -> int:
    return cost_of(driven_parts(rate_on(MILEAGE_RATES, name, day), units * 10, before * 10))


@pytest.mark.parametrize(
    ("year", "tenths_of_a_cent"),
    # IRS, Standard mileage rates; 2021 to 2024 in a secondary table, 2025 and 2026 in reports of
    # the announcement of 29 December 2025 ("72.5 cents, up 2.5").
    [
        (2012, 555),
        (2013, 565),
        (2014, 560),
        (2015, 575),
        (2016, 540),
        (2017, 535),
        (2018, 545),
        (2019, 580),
        (2020, 575),
        (2021, 560),
        (2023, 655),
        (2024, 670),
        (2025, 700),
        (2026, 725),
    ],
)
def test_business_miles_of_a_year(year: int, tenths_of_a_cent: int) -> None:
    for day in (dt.date(year, 1, 1), dt.date(year, 12, 31)):
        assert cost_on(US, day, 1000) == tenths_of_a_cent * 100


def test_a_rate_that_changes_in_the_middle_of_a_year() -> None:
    # IRS: 2011 51 and 55.5 cents; 2022 (secondary) 58.5 and 62.5: 58.50 + 62.50 = 121.00.
    assert cost_on(US, dt.date(2011, 6, 30), 100) == 51_00
    assert cost_on(US, dt.date(2011, 7, 1), 100) == 55_50
    halves = [cost_on(US, dt.date(2022, 6, 30), 100), cost_on(US, dt.date(2022, 7, 1), 100)]
    assert halves == [58_50, 62_50]


@pytest.mark.parametrize(
    ("year", "first", "beyond"),
    # Department of Finance Canada, releases 2004-081 and 2005-086; later ones secondary.
    [
        (2005, 45, 39),
        (2006, 50, 44),
        (2021, 59, 53),
        (2022, 61, 55),
        (2024, 70, 64),
        (2026, 73, 67),
    ],
)
def test_kilometres_beyond_the_first_5000_have_a_lower_rate(
    year: int, first: int, beyond: int
) -> None:
    day = dt.date(year, 5, 1)
    assert cost_on(CANADA, day, 5000) == first * 5000
    assert cost_on(CANADA, day, 1200, before=5000) == beyond * 1200
    assert cost_on(CANADA, day, 200, before=4900) == (first + beyond) * 100


def test_a_year_s_distance_over_two_bands() -> None:
    # Derived from the rates above: 6200 km; GOV.UK: 11,000 miles at 45p to 10,000, then 25p.
    assert cost_on(CANADA, dt.date(2025, 1, 1), 6200) == 4392_00
    assert cost_on(CANADA, dt.date(2024, 1, 1), 6200) == 4268_00
    assert cost_on(UK, dt.date(2025, 1, 1), 11_000) == 4750_00


def test_trips_one_by_one_cost_what_the_year_costs() -> None:
    rate = rate_on(MILEAGE_RATES, UK, dt.date(2025, 1, 1))
    trips = [cost_of(driven_parts(rate, 9_000, before)) for before in range(0, 180_000, 9_000)]
    assert sum(trips) == cost_of(driven_parts(rate, 180_000))


def test_a_year_without_a_rate_is_not_given_a_neighbour_s() -> None:
    for day in (dt.date(2023, 5, 1), dt.date(2004, 12, 31), dt.date(2027, 1, 1)):
        with pytest.raises(MileageRateError):
            rate_on(MILEAGE_RATES, CANADA, day)


def test_the_bands_of_a_rate_must_rise_from_nothing() -> None:
    for starts in ((), (1,), (0, 0), (0, 5, 3)):
        bands = tuple(MileageBand(from_units=start, rate_thousandths=1) for start in starts)
        with pytest.raises(MileageRateError):
            MileageRate(
                name="own", unit="km", currency="EUR", valid_from=dt.date(2026, 1, 1), bands=bands,
                source="the shop",
            )  # fmt: skip


def test_half_a_cent_is_rounded_up() -> None:
    band = MileageBand(from_units=0, rate_thousandths=30_000)
    rate = MileageRate(
        name="own", unit="km", currency="EUR", valid_from=dt.date(2026, 1, 1), bands=(band,),
        source="the shop",
    )  # fmt: skip
    assert cost_of(driven_parts(rate, 1235)) == 3705
    assert cost_of(driven_parts(rate, 0)) == 0


def test_the_year_of_driving_begins_where_the_authority_says() -> None:
    # GOV.UK: the allowance is per tax year, 6 April to 5 April.
    uk, canada = (rate_on(MILEAGE_RATES, name, dt.date(2026, 4, 5)) for name in (UK, CANADA))
    assert uk.year_of(dt.date(2026, 4, 5)) == (dt.date(2025, 4, 6), dt.date(2026, 4, 5))
    assert uk.year_of(dt.date(2026, 4, 6)) == (dt.date(2026, 4, 6), dt.date(2027, 4, 5))
    assert canada.year_of(dt.date(2026, 4, 5)) == (dt.date(2026, 1, 1), dt.date(2026, 12, 31))


def test_a_trip_says_its_sum_for_a_pencil() -> None:
    rate = rate_on(MILEAGE_RATES, CANADA, dt.date(2025, 5, 1))
    trip = Trip(
        unit="km",
        parts=driven_parts(rate, 126_4, 4_900_0),
        source="the list",
        rate_from=rate.valid_from,
    )
    # 100 km x 0.72 = 72.00 and 26.4 km x 0.66 = 17.424; together 89.42.
    assert (trip.distance_tenths, trip.amount_minor) == (126_4, 89_42)
    assert trip.words("CAD") == (
        "100 km x 0.72 + 26.4 km x 0.66 = 89.42 (the list, from 2025-01-01)"
    )


def test_rates_are_written_with_the_decimals_they_need() -> None:
    assert [rate_text(rate, "USD") for rate in (55_500, 70_000, 1, 120_000)] == [
        "0.555",
        "0.70",
        "0.00001",
        "1.20",
    ]
    assert rate_text(37_000, "JPY") == "37"


def test_a_published_rate_is_found_by_currency_unit_and_day() -> None:
    day = dt.date(2026, 5, 9)
    for currency, unit, name in (("USD", "mi", US), ("GBP", "mi", UK), ("CAD", "km", CANADA)):
        found = published_rate(MILEAGE_RATES, day, currency=currency, unit=unit)  # type: ignore[arg-type]
        assert found.name == name
    for currency, unit, asked in (
        ("EUR", "km", None),
        ("USD", "km", None),
        ("USD", "mi", UK),
        ("USD", "mi", "No such"),
    ):
        with pytest.raises(MileageRateError, match="Give the rate"):
            published_rate(MILEAGE_RATES, day, currency=currency, unit=unit, name=asked)  # type: ignore[arg-type]
    with pytest.raises(MileageRateError, match="2010"):
        published_rate(MILEAGE_RATES, dt.date(2010, 5, 9), currency="USD", unit="mi")


def test_a_year_of_trips_is_counted_like_an_odometer() -> None:
    # Department of Finance Canada: 73 cents to 5,000 km in 2026, 67 beyond.
    def trip(kilometres: int, month: int, before: int | None = None) -> Trip:
        new = NewTrip(
            distance_tenths=kilometres * 10,
            unit="km",
            driven_before_tenths=None if before is None else before * 10,
        )
        return price_trip(new, dt.date(2026, month, 9), "CAD", MILEAGE_RATES)

    trips = [trip(4_000, 2), trip(2_000, 3), trip(100, 4, before=4_950), trip(100, 5)]
    priced = drive_on(MILEAGE_RATES, trips)
    assert [one.driven_before_tenths for one in priced] == [0, 40_000, 49_500, 50_500]
    assert [one.amount_minor for one in priced] == [
        4_000 * 73,
        1_000 * 73 + 1_000 * 67,
        50 * 73 + 50 * 67,
        100 * 67,
    ]
    assert drive_on(MILEAGE_RATES, priced) == priced
