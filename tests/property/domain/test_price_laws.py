"""Laws of prices, tax, driving, the year and the rail."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st
from tests.property.domain.strategies import fee_schedules, patient, tax_settings

from stallkeep.domain.fees import FeeSchedule, take_home
from stallkeep.domain.mileage import MileageBand, MileageRate, cost_of, driven_parts
from stallkeep.domain.price_points import PricePoints, to_point
from stallkeep.domain.prices import (
    ChannelTerms,
    PitchRecovery,
    PricedItem,
    PriceRule,
    pitch_share,
    quotes,
)
from stallkeep.domain.rail_choice import Candidate, choose_rail
from stallkeep.domain.sell_chance import PastPieces, kind_of
from stallkeep.domain.tax import TaxSettings, receipt, tax_within
from stallkeep.domain.year import YearRow, year_totals

MAY = dt.date(2026, 5, 2)


@st.composite
def price_points(draw: st.DrawFn) -> PricePoints:
    step = draw(st.sampled_from([1, 5, 50, 100, 500, 1000]))
    return PricePoints(
        step_minor=step,
        below_minor=draw(st.integers(0, min(step - 1, 10))),
        towards=draw(st.sampled_from(("nearest", "up", "down"))),
    )


@patient
@given(st.integers(0, 10**7), price_points(), st.integers(0, 10**7))
def test_a_price_lands_on_a_point_not_under_the_floor(
    price: int, points: PricePoints, floor: int
) -> None:
    point = to_point(price, points, floor)
    assert (point + points.below_minor) % points.step_minor == 0
    assert point >= floor
    assert point > 0 or price == floor == 0
    assert to_point(point, points, floor) == point
    assert point <= max(price, floor) + points.step_minor


@patient
@given(
    st.integers(100, 10**6),
    st.integers(0, 50_000),
    st.integers(1, 40),
    fee_schedules,
    price_points(),
)
def test_pieces_expected_to_sell_earn_the_pitch_fee_back(
    base: int, pitch: int, pieces: int, fees: FeeSchedule, points: PricePoints
) -> None:
    recovery = PitchRecovery(pitch_fee_minor=pitch, expected_pieces=pieces)
    up = PricePoints(step_minor=points.step_minor, below_minor=points.below_minor, towards="up")
    item = PricedItem(id="coat", base_minor=base)
    exact = ChannelTerms(id="e", name="Event", rule=PriceRule(recovers=recovery), fees=fees)
    (quote,) = quotes(item, [exact], PricePoints(), TaxSettings())
    before = take_home(fees, base).take_home_minor
    assert (
        quote.take_home.take_home_minor >= before + pitch_share(recovery)
        or quote.price_minor == base
    )
    assert pitch_share(recovery) * pieces >= pitch
    (rounded_up,) = quotes(item, [exact], up, TaxSettings())
    assert rounded_up.price_minor >= quote.price_minor


@patient
@given(st.lists(st.integers(0, 10**6), min_size=1, max_size=8), tax_settings, st.booleans())
def test_a_receipt_adds_up(prices: list[int], settings: TaxSettings, in_cash: bool) -> None:
    paid = receipt(prices, settings, in_cash=in_cash)
    assert paid.net_minor + paid.tax_minor == paid.gross_minor
    assert sum(part.tax_minor for part in paid.taxes) == paid.tax_minor
    assert paid.gross_minor + paid.cash_rounding_minor == paid.to_pay_minor
    assert paid.gross_minor == sum(prices) + (paid.tax_minor if settings.mode == "added" else 0)
    step = settings.cash_step_minor if in_cash else None
    assert abs(paid.cash_rounding_minor) * 2 <= (step or 0)
    # Rounding apart, the tax inside what is paid is the tax on the receipt.
    roundings = (len(prices) + 1) * max(1, len(settings.rates))
    assert abs(tax_within(paid.gross_minor, settings) - paid.tax_minor) <= roundings


@patient
@given(st.lists(st.integers(0, 50_000), max_size=10), st.integers(0, 9_000))
def test_trips_one_by_one_differ_from_the_whole_by_rounding_only(
    trips: list[int], first_band: int
) -> None:
    rate = MileageRate(
        name="own",
        unit="km",
        currency="EUR",
        valid_from=MAY,
        bands=(
            MileageBand(from_units=0, rate_thousandths=41_500),
            MileageBand(from_units=first_band + 1, rate_thousandths=29_900),
        ),
        source="the shop",
    )
    driven, cost = 0, 0
    for trip in trips:
        cost += cost_of(driven_parts(rate, trip, driven))
        driven += trip
    assert abs(cost - cost_of(driven_parts(rate, driven))) <= Fraction(len(trips) + 1, 2)


year_rows = st.builds(
    YearRow,
    day=st.dates(dt.date(2025, 12, 1), dt.date(2027, 1, 31)),
    channel=st.sampled_from(("", "stall", "online")),
    event=st.sampled_from(("", "Harbour fair", "Mill yard")),
    account=st.sampled_from(
        ("takings", "refunds", "tax", "cost_of_goods", "fees", "travel", "other", "over_short")
    ),
    amount_minor=st.integers(-(10**6), 10**6),
    pieces=st.integers(0, 5),
)


@patient
@given(st.lists(year_rows, max_size=60))
def test_every_cut_of_a_year_has_the_same_sum(rows: list[YearRow]) -> None:
    totals = year_totals(rows, 2026)
    assert totals.adds_up
    assert totals.whole.net_minor == sum(r.amount_minor for r in rows if r.day.year == 2026)
    assert sum(cost.amount_minor for cost in totals.costs) == -totals.whole.costs_minor
    assert year_totals(rows[::-1], 2026) == totals


candidates = st.builds(
    Candidate,
    item_id=st.uuids().map(str),
    category=st.sampled_from((None, "coats", "ceramics")),
    price_minor=st.none() | st.integers(0, 90_00),
    margin_minor=st.none() | st.integers(-20_00, 60_00),
    days_held=st.integers(0, 900),
    quantity=st.integers(1, 4),
    reserved_until=st.none() | st.just(MAY),
)


@st.composite
def histories(draw: st.DrawFn) -> list[PastPieces]:
    history = []
    for _ in range(draw(st.integers(0, 6))):
        category, price = draw(st.sampled_from((None, "coats"))), draw(st.integers(0, 90_00))
        sold, taken = sorted((draw(st.integers(0, 40)), draw(st.integers(0, 40))))
        kind = kind_of(category, price, 0, (25_00,))
        history.append(PastPieces(kind=kind, taken=taken, sold=sold))
    return history


stocks = st.lists(candidates, max_size=12, unique_by=lambda piece: piece.item_id)


@patient
@given(stocks, histories(), st.integers(0, 20))
def test_every_piece_is_chosen_or_left_out_and_the_rail_never_overfilled(
    stock: list[Candidate], history: list[PastPieces], size: int
) -> None:
    plan = choose_rail(
        stock, history, size=size, on=MAY, currency="EUR", band_starts_minor=(25_00,)
    )
    chosen = [choice.item_id for choice in plan.choices]
    assert sorted([*chosen, *(piece.item_id for piece in plan.left_out)]) == sorted(
        piece.item_id for piece in stock
    )
    room = sum(p.quantity for p in stock if p.price_minor is not None and p.reserved_until is None)
    assert sum(choice.quantity for choice in plan.choices) == min(size, room)
    assert [choice.rank for choice in plan.choices] == list(range(1, len(chosen) + 1))
    assert all(0 < choice.chance < 1 for choice in plan.choices)
    again = choose_rail(
        stock[::-1], history, size=size, on=MAY, currency="EUR", band_starts_minor=(25_00,)
    )
    assert again == plan
