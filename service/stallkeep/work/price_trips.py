"""Price the trips of a year anew, where a published rate falls with what was driven in it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

import msgspec

from stallkeep.domain.mileage import rate_on
from stallkeep.domain.mileage_rates import MILEAGE_RATES
from stallkeep.domain.trips import Trip, drive_on
from stallkeep.store import costs as store
from stallkeep.store.connection import Connection
from stallkeep.work.split_cost import share_anew


def stored_trip(values: Mapping[str, Any] | None) -> Trip | None:
    """Read a cost's trip as it is stored."""
    return None if values is None else msgspec.convert(values, Trip)


def trip_columns(trip: Trip) -> dict[str, Any]:
    """Write a trip as columns of its cost."""
    return {"trip": msgspec.to_builtins(trip), "amount_minor": trip.amount_minor}


async def price_year_anew(con: Connection, shop_id: UUID, trip: Trip | None) -> None:
    """Price all trips of a trip's year and rate, after it came, changed or went.

    Nothing happens where its rate does not depend on what was driven before. The caller has taken
    the turn (`store.turns.trips_turn`) before it locked anything.
    """
    if trip is None or trip.published is None or trip.driven_on is None:
        return
    rate = rate_on(MILEAGE_RATES, trip.published, trip.driven_on)
    if len(rate.bands) == 1:
        return
    year = rate.year_of(trip.driven_on)
    costs = await store.trips_at(con, shop_id, (rate.name, rate.unit), year)
    trips = [msgspec.convert(cost.trip, Trip) for cost in costs]
    for cost, before, after in zip(costs, trips, drive_on(MILEAGE_RATES, trips), strict=True):
        if before != after:
            await store.change_cost(con, shop_id, cost.id, trip_columns(after))
            await share_anew(con, shop_id, cost.id)
