"""Laws of shared costs, trips and average costs: nothing is lost on the way."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st
from tests.property.domain.strategies import patient

from stallkeep.domain.batches import Batch, SoldOff, stock_card
from stallkeep.domain.cost_split import split_cost
from stallkeep.domain.mileage import cost_of, driven_parts, rate_on
from stallkeep.domain.mileage_rates import CANADA, MILEAGE_RATES, UK
from stallkeep.domain.trips import NewTrip, drive_on, price_trip

days = st.dates(dt.date(2026, 1, 1), dt.date(2026, 3, 1))
weights = st.lists(st.integers(1, 400), min_size=2, max_size=8)


@patient
@given(st.integers(-(10**7), 10**7), st.none() | st.integers(0, 10**6), weights)
def test_the_parts_of_a_cost_are_the_whole_cost(
    amount: int, tax: int | None, shares: list[int]
) -> None:
    parts = split_cost(amount, tax, shares)
    assert sum(part for part, _ in parts) == amount
    assert [part for _, part in parts if part is None] == (
        [None] * len(parts) if tax is None else []
    )
    if tax is not None:
        assert sum(part or 0 for _, part in parts) == tax
    for (part, _), share in zip(parts, shares, strict=True):
        assert abs(part * sum(shares) - amount * share) < sum(shares)


@patient
@given(st.sampled_from((CANADA, UK)), st.integers(1, 400_000), st.integers(0, 400_000))
def test_the_stretches_of_a_trip_are_the_whole_trip(name: str, distance: int, before: int) -> None:
    rate = rate_on(MILEAGE_RATES, name, dt.date(2026, 5, 9))
    parts = driven_parts(rate, distance, before)
    assert sum(part.distance_tenths for part in parts) == distance
    assert all(part.distance_tenths > 0 for part in parts)
    falling = [part.rate_thousandths for part in parts]
    assert falling == sorted(falling, reverse=True)
    assert cost_of(driven_parts(rate, distance, before)) <= cost_of(driven_parts(rate, distance))


@patient
@given(st.lists(st.tuples(st.integers(1, 60_000), days), max_size=8))
def test_the_trips_of_a_year_cost_what_its_distance_costs(
    driven: list[tuple[int, dt.date]],
) -> None:
    trips = [
        price_trip(NewTrip(distance_tenths=tenths, unit="km"), day, "CAD", MILEAGE_RATES)
        for tenths, day in sorted(driven, key=lambda one: one[1])
    ]
    priced = drive_on(MILEAGE_RATES, trips)
    assert [trip.distance_tenths for trip in priced] == [trip.distance_tenths for trip in trips]
    whole = sum(trip.distance_tenths for trip in trips)
    rate = rate_on(MILEAGE_RATES, CANADA, dt.date(2026, 1, 1))
    cost = sum(trip.amount_minor for trip in priced)
    assert abs(cost - cost_of(driven_parts(rate, whole))) <= Fraction(len(trips) + 1, 2)


@st.composite
def stocks(draw: st.DrawFn) -> tuple[list[Batch], list[SoldOff]]:
    """Batches, and sales of no more pieces than they hold."""
    batches = draw(
        st.lists(
            st.builds(
                Batch,
                quantity=st.integers(1, 40),
                cost_minor=st.integers(0, 100_000),
                acquired_on=st.none() | days,
            ),
            max_size=5,
        )
    )
    held = sum(batch.quantity for batch in batches)
    sold: list[SoldOff] = []
    while held and draw(st.booleans()):
        count = draw(st.integers(1, held))
        sold.append(SoldOff(quantity=count, sold_on=draw(days)))
        held -= count
    return batches, sold


@patient
@given(stocks())
def test_all_batches_are_all_sales_and_what_is_left(
    stock: tuple[list[Batch], list[SoldOff]],
) -> None:
    batches, sold = stock
    moves = stock_card(batches, sold)
    bought = sum(batch.cost_minor for batch in batches)
    left = moves[-1] if moves else None
    assert sum(move.cost_minor for move in moves) == (left.left_cost_minor if left else 0)
    assert sum(move.quantity for move in moves) == (left.left if left else 0)
    taken = -sum(move.cost_minor for move in moves if move.quantity < 0)
    assert taken + (left.left_cost_minor if left else 0) == bought
    for move in moves:
        assert move.left >= 0
        assert move.left_cost_minor >= 0
        assert move.left or not move.left_cost_minor
    # No piece costs more than the dearest batch's, or less than the cheapest's, a cent apart.
    for move in moves:
        if move.quantity < 0:
            rates = [(batch.cost_minor, batch.quantity) for batch in batches]
            pieces = -move.quantity
            slack = len(moves)  # each sale may have rounded by half a cent before
            assert -move.cost_minor <= max(c * pieces / q for c, q in rates) + slack
            assert -move.cost_minor >= min(c * pieces / q for c, q in rates) - slack
