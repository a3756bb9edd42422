"""Published rates for driving, as data. A shop may add its own.

Not every country's, not every year's: a rate that is not here is entered with its source.
"""

from __future__ import annotations

import datetime as dt
from calendar import monthrange

from stallkeep.domain.mileage import MileageBand, MileageRate

US = "US business"
CANADA = "Canada automobile"
UK = "UK car"

_IRS = "IRS, Standard mileage rates"
_IRS_LATER = "IRS standard mileage rates, read in a secondary table"
_IRS_RISE = "IRS announcement of 29 December 2025 (72.5 cents, up 2.5), read in secondary reports"
_CANADA = "Department of Finance Canada, release on automobile deductions"
_CANADA_LATER = "Department of Finance Canada rates, read in secondary tables"
_UK = "GOV.UK, Simplified expenses if you're self-employed: vehicles"

# (year, first month, last month, tenths of a cent per mile, source)
_US_RATES = (
    (2011, 1, 6, 510, _IRS),
    (2011, 7, 12, 555, _IRS),
    (2012, 1, 12, 555, _IRS),
    (2013, 1, 12, 565, _IRS),
    (2014, 1, 12, 560, _IRS),
    (2015, 1, 12, 575, _IRS),
    (2016, 1, 12, 540, _IRS),
    (2017, 1, 12, 535, _IRS),
    (2018, 1, 12, 545, _IRS),
    (2019, 1, 12, 580, _IRS),
    (2020, 1, 12, 575, _IRS),
    (2021, 1, 12, 560, _IRS_LATER),
    (2022, 1, 6, 585, _IRS_LATER),
    (2022, 7, 12, 625, _IRS_LATER),
    (2023, 1, 12, 655, _IRS_LATER),
    (2024, 1, 12, 670, _IRS_LATER),
    (2025, 1, 12, 700, _IRS_RISE),
    (2026, 1, 12, 725, _IRS_RISE),
)

# (year, cents per km for the first 5000, cents beyond, source); territories have 4 cents more.
_CANADA_RATES = (
    (2005, 45, 39, _CANADA),
    (2006, 50, 44, _CANADA),
    (2021, 59, 53, _CANADA_LATER),
    (2022, 61, 55, _CANADA_LATER),
    (2024, 70, 64, _CANADA_LATER),
    (2025, 72, 66, _CANADA_LATER),
    (2026, 73, 67, _CANADA_LATER),
)

MILEAGE_RATES: tuple[MileageRate, ...] = (
    *(
        MileageRate(
            name=US,
            unit="mi",
            currency="USD",
            valid_from=dt.date(year, first, 1),
            valid_until=dt.date(year, last, monthrange(year, last)[1]),
            bands=(MileageBand(from_units=0, rate_thousandths=tenths * 100),),
            source=source,
        )
        for year, first, last, tenths, source in _US_RATES
    ),
    *(
        MileageRate(
            name=CANADA,
            unit="km",
            currency="CAD",
            valid_from=dt.date(year, 1, 1),
            valid_until=dt.date(year, 12, 31),
            bands=(
                MileageBand(from_units=0, rate_thousandths=first * 1000),
                MileageBand(from_units=5000, rate_thousandths=beyond * 1000),
            ),
            source=source,
        )
        for year, first, beyond, source in _CANADA_RATES
    ),
    MileageRate(
        name=UK,
        unit="mi",
        currency="GBP",
        valid_from=dt.date(2011, 4, 6),  # from memory; the page shows the rate, not its beginning
        bands=(
            MileageBand(from_units=0, rate_thousandths=45_000),
            MileageBand(from_units=10_000, rate_thousandths=25_000),
        ),
        source=_UK,
        year_from=(4, 6),  # the tax year
    ),
)
