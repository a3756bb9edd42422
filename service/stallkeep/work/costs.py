"""Keep the costs: of one event, shared by several, or of the shop in general."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

import msgspec

from stallkeep.domain.errors import CostAmountError, CostSplitError, MileageRateError
from stallkeep.domain.mileage_rates import MILEAGE_RATES
from stallkeep.domain.money import to_text
from stallkeep.domain.trips import NewTrip, Trip, asked_again, price_trip
from stallkeep.store import costs, events
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.store.shops import Shop, find_shop
from stallkeep.store.turns import trips_turn
from stallkeep.work.price_trips import price_year_anew, stored_trip, trip_columns
from stallkeep.work.references import need_event
from stallkeep.work.split_cost import NewSplit, events_of, split_again, write_parts
from stallkeep.work.stock_errors import CostNotFoundError
from stallkeep.work.versions import ANY, Expected

DAY_FIELDS = frozenset({"trip", "spent_on", "event_id", "split"})
"""What may move a trip to another day, and so to another rate."""


class WholeCost(msgspec.Struct, frozen=True):
    """A cost with what each event bears of it, if it is shared."""

    cost: costs.Cost
    parts: Sequence[costs.CostPart] = ()


async def read_cost(con: Connection, shop_id: UUID, cost_id: UUID) -> WholeCost:
    """Read one cost.

    Raises:
        CostNotFoundError: The shop has none with this id.
    """
    cost = _found(await costs.find_cost(con, shop_id, cost_id), cost_id)
    return WholeCost(cost, (await costs.parts_of(con, shop_id, [cost_id]))[cost_id])


async def add_cost(con: Connection, shop: Shop, values: Mapping[str, Any]) -> WholeCost:
    """Enter a cost.

    Args:
        con: In the shop's scope.
        shop: The shop.
        values: Columns by name; `trip` a `NewTrip` in place of `amount_minor`, `split` a
            `NewSplit` in place of `event_id`.

    Raises:
        CostAmountError: Both an amount and a trip, or neither; or a tax that is more than it.
        CostSplitError: Both an event and a split, or a split that makes no sense.
        DistanceError: The trip's distance makes no sense.
        MileageRateError: There is no usable rate for the trip.
        UnknownReferenceError: The shop has no such event.
    """
    asked: NewTrip | None = values.get("trip")
    amount: int | None = values.get("amount_minor")
    if asked is None and amount is None:
        raise CostAmountError("Give an amount, or a trip whose amount is worked out")
    if asked is not None and amount is not None:
        raise CostAmountError("The amount of a trip is worked out: give the trip or an amount")
    split: NewSplit | None = values.get("split")
    held = await _events(con, shop.shop_id, values.get("event_id"), split)
    row = _columns(values, split)
    trip = None
    if asked is not None:
        await trips_turn(con, shop.shop_id)
        day = _day(values.get("spent_on"), held)
        trip = price_trip(asked, day, shop.currency, MILEAGE_RATES)
        row |= trip_columns(trip)
    cost = await costs.add_cost(con, {**row, "shop_id": shop.shop_id, "id": new_id()})
    _check_tax(shop, cost)
    await write_parts(con, shop.shop_id, cost, split, held)
    await price_year_anew(con, shop.shop_id, trip)
    return await read_cost(con, shop.shop_id, cost.id)


def _check_tax(shop: Shop, cost: costs.Cost) -> None:
    """Tax is a part of what was spent, or of what was given back."""
    amount, tax = cost.amount_minor, cost.tax_minor or 0
    if tax * amount < 0 or abs(tax) > abs(amount):
        raise CostAmountError(
            f"The tax is a part of the amount, and {to_text(tax, shop.currency)} is none of "
            f"{to_text(amount, shop.currency)}"
        )


async def change_cost(
    con: Connection, shop: Shop, cost_id: UUID, values: Mapping[str, Any], expected: Expected
) -> WholeCost:
    """Change what *values* names, as for `add_cost`; parts and a trip's amount follow.

    Raises:
        CostNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
        CostAmountError: An amount for a cost that is a trip, or for one that becomes one; or a
            tax that is more than the amount.
        CostSplitError: Both an event and a split, or a split that makes no sense.
        DistanceError: The trip's distance makes no sense.
        MileageRateError: There is no usable rate for the trip.
        UnknownReferenceError: The shop has no such event.
    """
    await trips_turn(con, shop.shop_id)
    cost = _found(await costs.lock_cost(con, shop.shop_id, cost_id), cost_id)
    expected.check(cost.version)
    parts = (await costs.parts_of(con, shop.shop_id, [cost_id]))[cost_id]
    split = values["split"] if "split" in values else split_again(cost, parts)
    held = await _events(con, shop.shop_id, values.get("event_id", cost.event_id), split)
    row = _columns(values, split)
    before = stored_trip(cost.trip)
    asked = _trip_asked(values, before)
    if asked is not None and DAY_FIELDS & values.keys():
        day = _day(values.get("spent_on", cost.spent_on), held)
        row |= trip_columns(price_trip(asked, day, shop.currency, MILEAGE_RATES))
    cost = await costs.change_cost(con, shop.shop_id, cost_id, row)
    _check_tax(shop, cost)
    await write_parts(con, shop.shop_id, cost, split, held)
    for trip in (before, stored_trip(cost.trip)):
        await price_year_anew(con, shop.shop_id, trip)
    return await read_cost(con, shop.shop_id, cost_id)


async def follow_event(con: Connection, shop_id: UUID, event_id: UUID) -> None:
    """Share and price anew what depends on the days of an event, as they are now.

    A trip whose rate is not known for the new day keeps its own, which its explanation tells. The
    caller has taken the turn (`trips_turn`) before it locked anything.
    """
    shop = await find_shop(con, shop_id)
    if shop is not None:
        for cost_id in await costs.following(con, shop_id, event_id):
            await _follow(con, shop, cost_id)


async def remove_cost(con: Connection, shop_id: UUID, cost_id: UUID, expected: Expected) -> None:
    """Remove a cost, and with it every event's part of it.

    Raises:
        CostNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
    """
    await trips_turn(con, shop_id)
    cost = _found(await costs.lock_cost(con, shop_id, cost_id), cost_id)
    expected.check(cost.version)
    await costs.remove_cost(con, shop_id, cost_id)
    await price_year_anew(con, shop_id, stored_trip(cost.trip))


async def _follow(con: Connection, shop: Shop, cost_id: UUID) -> None:
    cost = (await read_cost(con, shop.shop_id, cost_id)).cost
    try:
        await change_cost(con, shop, cost_id, {"spent_on": cost.spent_on}, ANY)
    except MileageRateError:
        await change_cost(con, shop, cost_id, {}, ANY)


def _trip_asked(values: Mapping[str, Any], stored: Trip | None) -> NewTrip | None:
    """Tell which trip a cost is to have; one that has none and gets none keeps its amount."""
    trip: NewTrip | None = values.get("trip")
    if "trip" not in values and stored is not None:
        trip = asked_again(stored)
    if trip is not None and "amount_minor" in values:
        raise CostAmountError(
            "The amount of a trip is worked out; to enter an amount instead, send trip: null too"
        )
    return trip


def _columns(values: Mapping[str, Any], split: NewSplit | None) -> dict[str, Any]:
    """Take the columns that stand in the cost's own row; a null trip is taken off."""
    row = {name: value for name, value in values.items() if name not in ("trip", "split")}
    if "trip" in values:
        row["trip"] = None
    if "split" in values or split is not None:
        row["split_by"] = None if split is None else split.by
    return row


async def _events(
    con: Connection, shop_id: UUID, event_id: UUID | None, split: NewSplit | None
) -> list[events.Event]:
    """Read the event of a cost, or those that share it."""
    if split is None:
        return [] if event_id is None else [await need_event(con, shop_id, event_id)]
    if event_id is not None:
        raise CostSplitError(
            "A cost is of one event (event_id) or shared by several (split); to change from one to "
            "the other, send null for what it was"
        )
    return await events_of(con, shop_id, split)


def _day(spent_on: dt.date | None, held: Sequence[events.Event]) -> dt.date | None:
    """Tell a trip's day: as entered, else the first day of its event."""
    return spent_on or min((event.starts_on for event in held), default=None)


def _found(cost: costs.Cost | None, cost_id: UUID) -> costs.Cost:
    if cost is None:
        raise CostNotFoundError(f"There is no cost {cost_id}")
    return cost
