"""A shop's year: totals per month, channel, event and kind of cost, and the stock at a date."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Annotated, Any

from litestar import Response, get
from litestar.di import NamedDependency
from litestar.params import FromPath, PathParameter, QueryParameter

from stallkeep.api.auth import Caller
from stallkeep.api.money_views import money_view, to_view
from stallkeep.work import year_totals as work
from stallkeep.work.year_csv import FILES, year_file

if TYPE_CHECKING:
    YearReport = Any
else:
    YearReport = money_view(work.YearReport)

StockOn = Annotated[
    dt.date | None,
    QueryParameter(description="Day of the stock; the year's last, or today if earlier"),
]


@get("/v1/years/{year:int}", operation_id="readYear", tags=["years"])
async def read_year(
    year: FromPath[int],
    caller: NamedDependency[Caller],
    stock_on: StockOn = None,
) -> YearReport:
    """Add up a calendar year by month, channel, event and kind of cost, with the stock at cost.

    Only what is known for certain is added up; the notes say what is left open. Arithmetic on
    what was entered, not tax or accounting advice.
    """
    async with caller.read_scope() as con:
        found = await work.year_report(con, caller.shop, year, caller.today(), stock_on)
    return to_view(found, caller.shop.currency)


@get(
    "/v1/years/{year:int}/{file:str}",
    operation_id="exportYear",
    tags=["years"],
    opt={"media_types": ("text/csv",)},
)
async def export_year(
    year: FromPath[int],
    file: Annotated[str, PathParameter(description=f"One of {', '.join(FILES)}")],
    caller: NamedDependency[Caller],
    stock_on: StockOn = None,
) -> Response[bytes]:
    """Take a year away as CSV: its totals per month, channel and event, its costs, its stock.

    No cell runs as a formula in a spreadsheet. Arithmetic on what was entered, not tax or
    accounting advice; the last row says so.
    """
    async with caller.read_scope() as con:
        found = await work.year_report(con, caller.shop, year, caller.today(), stock_on)
    content = year_file(found, file).encode()
    headers = {"Content-Disposition": f'attachment; filename="{year}-{file}"'}
    return Response(content, media_type="text/csv", headers=headers)


ROUTES = (read_year, export_year)
