"""Fees of channels, forward and back, against published figures."""

from __future__ import annotations

import msgspec
import pytest

from stallkeep.domain.errors import FeeScheduleError, PriceOutOfReachError
from stallkeep.domain.fees import (
    FeePart,
    FeeSchedule,
    Postage,
    Tier,
    fees_of_payment,
    lowest_price,
    take_home,
)


def a_schedule(rate_ppm: int, fixed_minor: int = 0) -> FeeSchedule:
    return FeeSchedule(
        parts=(
            FeePart(name="card fee", kind="payment", rate_ppm=rate_ppm, fixed_minor=fixed_minor),
        )
    )


TIERED = FeePart(
    name="commission",
    rate_ppm=200_000,
    tiers=(
        Tier(from_minor=5_000, rate_ppm=100_000),
        Tier(from_minor=20_000, rate_ppm=50_000),
    ),
)


@pytest.mark.parametrize(
    ("price", "rate_ppm", "fee", "net"),
    # OpenStax Principles of Accounting Vol. 1, receivables (m67881): card sales.
    [
        (300_00, 50_000, 15_00, 285_00),
        (1200_00, 40_000, 48_00, 1152_00),
        (1790_00, 30_000, 53_70, 1736_30),
        (1120_00, 30_000, 33_60, 1086_40),
    ],
)
def test_a_card_fee_is_a_share_of_the_price(price: int, rate_ppm: int, fee: int, net: int) -> None:
    left = take_home(a_schedule(rate_ppm), price)
    assert (left.fees_minor, left.take_home_minor) == (fee, net)


@pytest.mark.parametrize(
    ("wanted", "rate_ppm", "fixed", "price", "fee"),
    [
        # Inverse of the published rows above.
        (285_00, 50_000, 0, 300_00, 15_00),
        (1736_30, 30_000, 0, 1790_00, 53_70),
        # Derived: price = (net + fixed) / (1 - rate), half up; no publication behind them.
        (100_00, 29_000, 30, 103_30, 3_30),
        (20_00, 26_000, 10, 20_64, 64),
        (25_00, 50_000, 0, 26_32, 1_32),
    ],
)
def test_the_price_for_a_wanted_take_home(
    wanted: int, rate_ppm: int, fixed: int, price: int, fee: int
) -> None:
    schedule = a_schedule(rate_ppm, fixed)
    found = lowest_price(schedule, wanted)
    # The formula's price reaches the sum too; the lowest may be a cent below it.
    assert price - 1 <= found <= price
    assert take_home(schedule, price).fees_minor == fee
    assert take_home(schedule, found).take_home_minor >= wanted
    assert take_home(schedule, found - 1).take_home_minor < wanted


def test_a_slice_pays_the_rate_of_its_tier_only() -> None:
    # 50.00 at 20 %, 150.00 at 10 %, 50.00 at 5 %: worked by hand.
    assert fees_of_payment(FeeSchedule(parts=(TIERED,)), 250_00) == 10_00 + 15_00 + 2_50


def test_a_tier_on_the_whole_price_makes_a_step() -> None:
    whole = msgspec.structs.replace(
        TIERED,
        rate_ppm=50_000,
        tiers=(Tier(from_minor=10_000, rate_ppm=150_000),),
        tiers_apply_to="whole",
    )
    schedule = FeeSchedule(parts=(whole,))
    assert take_home(schedule, 99_99).take_home_minor == 94_99
    assert take_home(schedule, 100_00).take_home_minor == 85_00
    assert lowest_price(schedule, 94_99) == 99_99
    assert lowest_price(schedule, 95_00) == 111_76


def test_minimum_and_maximum_bound_the_fee() -> None:
    part = FeePart(name="commission", rate_ppm=100_000, minimum_minor=150, maximum_minor=2_000)
    schedule = FeeSchedule(parts=(part,))
    assert [fees_of_payment(schedule, price) for price in (0, 1000, 1500, 5000, 20000, 90000)] == [
        150, 150, 150, 500, 2000, 2000,
    ]  # fmt: skip
    assert lowest_price(schedule, 100_00 - 10_00) == 100_00
    assert lowest_price(schedule, 1000_00) == 1020_00


def test_every_line_between_price_and_take_home_is_shown() -> None:
    schedule = FeeSchedule(
        parts=(
            FeePart(name="commission", rate_ppm=100_000),
            FeePart(name="payment", kind="payment", base="total", rate_ppm=20_000, fixed_minor=30),
        ),
        postage=Postage(payer="buyer", cost_minor=500),
        tax_on_fees_ppm=200_000,
    )
    left = take_home(schedule, 40_00)
    # Worked by hand: 4.00; 2 % of 45.00 + 0.30 = 1.20; 20 % of 5.20 = 1.04.
    assert [(line.name, line.amount_minor) for line in left.lines] == [
        ("commission", -400),
        ("payment", -120),
        ("tax on fees", -104),
        ("postage from the buyer", 500),
        ("postage paid", -500),
    ]
    assert left.fees_minor == 624
    assert left.take_home_minor == 40_00 - 624


def test_postage_paid_by_the_seller_comes_off() -> None:
    schedule = FeeSchedule(postage=Postage(payer="seller", cost_minor=495))
    assert take_home(schedule, 40_00).take_home_minor == 35_05
    assert lowest_price(schedule, 35_05) == 40_00


def test_selling_direct_costs_nothing() -> None:
    assert take_home(FeeSchedule(), 40_00).take_home_minor == 40_00
    assert lowest_price(FeeSchedule(), 40_00) == 40_00
    assert lowest_price(FeeSchedule(), -5) == 0


def test_a_refund_keeps_or_returns_the_fee_as_the_schedule_says() -> None:
    keeps = a_schedule(25_000)
    returns = msgspec.structs.replace(keeps, returned_on_refund=True)
    assert fees_of_payment(keeps, -40_00) == 0
    assert fees_of_payment(returns, -40_00) == -1_00


def test_selling_direct_is_priced_lower_by_about_the_fee() -> None:
    # Common practice, no source: direct prices are lower by about the channel's fee.
    channel = a_schedule(120_000)
    direct = lowest_price(FeeSchedule(), take_home(channel, 50_00).take_home_minor)
    assert 50_00 - direct == 6_00


def test_a_schedule_survives_json() -> None:
    schedule = FeeSchedule(parts=(TIERED,), postage=Postage(payer="seller", cost_minor=1))
    assert msgspec.json.decode(msgspec.json.encode(schedule), type=FeeSchedule) == schedule


@pytest.mark.parametrize(
    "terms",
    [
        b'{"parts":[{"name":"a","rate_ppm":-1}]}',
        b'{"parts":[{"name":"a","rate_ppm":1000000}]}',
        b'{"parts":[{"name":"a","rate_ppm":600000},{"name":"b","rate_ppm":500000}]}',
        b'{"parts":[{"name":"a","rate_ppm":900000}],"tax_on_fees_ppm":200000}',
        b'{"parts":[{"name":"a","fixed_minor":-1}]}',
        b'{"parts":[{"name":"a","minimum_minor":5,"maximum_minor":4}]}',
        b'{"parts":[{"name":"a","tiers":[{"from_minor":0,"rate_ppm":1}]}]}',
        b'{"parts":[{"name":"a","tiers":[{"from_minor":9,"rate_ppm":1},{"from_minor":9,"rate_ppm":2}]}]}',
        b'{"postage":{"payer":"seller","cost_minor":-1}}',
        b'{"tax_on_fees_ppm":-1}',
    ],
)
def test_a_schedule_that_makes_no_sense_is_refused(terms: bytes) -> None:
    with pytest.raises(FeeScheduleError):
        msgspec.json.decode(terms, type=FeeSchedule)


def test_a_take_home_beyond_any_price_is_refused() -> None:
    with pytest.raises(PriceOutOfReachError):
        lowest_price(a_schedule(500_000), 10**15)
