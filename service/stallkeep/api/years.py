"""A shop's year: totals per month, channel, event and kind of cost, and the stock at a date."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Annotated, Any

from litestar import get
from litestar.di import NamedDependency
from litestar.params import FromPath, QueryParameter

from stallkeep.api.auth import Caller
from stallkeep.api.money_views import money_view, to_view
from stallkeep.work import year_totals as work

if TYPE_CHECKING:
    YearReport = Any
else:
    YearReport = money_view(work.YearReport)


@get("/v1/years/{year:int}", operation_id="readYear", tags=["years"])
async def read_year(
    year: FromPath[int],
    caller: NamedDependency[Caller],
    stock_on: Annotated[
        dt.date | None,
        QueryParameter(description="Day of the stock; the year's last, or today if earlier"),
    ] = None,
) -> YearReport:
    """Add up a calendar year by month, channel, event and kind of cost, with the stock at cost.

    Only what is known for certain is added up; the notes say what is left open. Arithmetic on
    what was entered, not tax or accounting advice.
    """
    async with caller.read_scope() as con:
        found = await work.year_report(con, caller.shop, year, caller.today(), stock_on)
    return to_view(found, caller.shop.currency)


ROUTES = (read_year,)
