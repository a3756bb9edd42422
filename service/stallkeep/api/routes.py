"""Every route of the service, collected from one list of modules."""

from __future__ import annotations

from typing import Final

from litestar.handlers import HTTPRouteHandler

from stallkeep.api import (
    batches,
    channels,
    comparisons,
    conflicts,
    costs,
    events,
    exports,
    forecasts,
    health,
    imports,
    items,
    joined_sales,
    listings,
    matches,
    mileage_rates,
    payouts,
    price_quotes,
    questions,
    rail,
    rail_suggestions,
    receipt_quotes,
    reconciliations,
    results,
    rulings,
    sales,
    shop,
    take_downs,
    tokens,
    transactions,
    what_ifs,
    years,
)

MODULES: Final = (
    shop,
    tokens,
    channels,
    items,
    batches,
    listings,
    events,
    rail,
    costs,
    mileage_rates,
    sales,
    receipt_quotes,
    imports,
    transactions,
    matches,
    rulings,
    joined_sales,
    reconciliations,
    questions,
    payouts,
    conflicts,
    take_downs,
    results,
    comparisons,
    what_ifs,
    forecasts,
    rail_suggestions,
    price_quotes,
    years,
    exports,
    health,
)

ROUTES: Final[list[HTTPRouteHandler]] = [route for module in MODULES for route in module.ROUTES]
