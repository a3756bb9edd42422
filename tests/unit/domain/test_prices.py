"""Prices on every channel from an item's base price."""

from __future__ import annotations

import msgspec
import pytest

from stallkeep.domain.errors import PriceRuleError
from stallkeep.domain.fees import FeePart, FeeSchedule
from stallkeep.domain.price_points import PricePoints, to_point
from stallkeep.domain.prices import (
    ChannelTerms,
    PitchRecovery,
    PricedItem,
    PriceRule,
    marked_up,
    pitch_share,
    price_changes,
    quotes,
)
from stallkeep.domain.tax import TaxRate, TaxSettings

ANY_PRICE = PricePoints()
WHOLE = PricePoints(step_minor=100)
FIVES = PricePoints(step_minor=500)
JUST_BELOW = PricePoints(step_minor=500, below_minor=1)
NO_TAX = TaxSettings()
COMMISSION = FeeSchedule(parts=(FeePart(name="commission", rate_ppm=120_000),))
CARD = FeeSchedule(parts=(FeePart(name="card fee", kind="payment", rate_ppm=25_000),))


def an_item(
    base_minor: int = 40_00, *, cost_minor: int | None = 12_00, floor_minor: int | None = None
) -> PricedItem:
    return PricedItem(
        id="coat", base_minor=base_minor, cost_minor=cost_minor, floor_minor=floor_minor
    )


def one_price(
    rule: PriceRule, points: PricePoints = ANY_PRICE, item: PricedItem | None = None
) -> int:
    stall = ChannelTerms(id="stall", name="Stall", rule=rule, fees=CARD)
    online = ChannelTerms(id="online", name="Online", fees=COMMISSION)
    return quotes(item or an_item(), [stall, online], points, NO_TAX)[0].price_minor


@pytest.mark.parametrize(
    ("cost", "markup_ppm", "price"),
    # OpenStax Contemporary Mathematics, Discounts, Markups, and Sales Tax (m00058).
    [
        (62_00, 150_000, 71_30),
        (750_00, 450_000, 1087_50),
        (1_30, 600_000, 2_08),
        (8_85, 200_000, 10_62),
        (11_80, 1_250_000, 26_55),
        (25_00, 180_000, 29_50),
    ],
)
def test_a_mark_up_is_added_to_a_cost(cost: int, markup_ppm: int, price: int) -> None:
    assert marked_up(cost, markup_ppm) == price
    assert one_price(PriceRule(markup_ppm=markup_ppm), item=an_item(cost)) == price


@pytest.mark.parametrize(
    ("points", "price", "point"),
    [
        (ANY_PRICE, 12_34, 12_34),
        (WHOLE, 12_49, 12_00),
        (WHOLE, 12_50, 13_00),
        (FIVES, 12_49, 10_00),
        (FIVES, 12_50, 15_00),
        (JUST_BELOW, 12_48, 9_99),
        (JUST_BELOW, 12_50, 14_99),
        (JUST_BELOW, 15_00, 14_99),
        (PricePoints(step_minor=500, towards="up"), 10_01, 15_00),
        (PricePoints(step_minor=500, towards="up"), 10_00, 10_00),
        (PricePoints(step_minor=500, towards="down"), 14_99, 10_00),
        (FIVES, 1_00, 5_00),
        (JUST_BELOW, 1_00, 4_99),
        (FIVES, 0, 0),
        (PricePoints(step_minor=500, towards="down"), 4_99, 5_00),
    ],
)
def test_prices_go_to_the_shop_s_points_and_never_to_nothing(
    points: PricePoints, price: int, point: int
) -> None:
    assert to_point(price, points) == point


def test_a_price_never_falls_under_the_floor_and_stays_on_a_point() -> None:
    assert to_point(12_00, FIVES, floor_minor=12_00) == 15_00
    assert to_point(12_00, JUST_BELOW, floor_minor=10_00) == 14_99
    floored = an_item(floor_minor=36_00)
    down = PriceRule(offset_minor=-10_00)
    assert one_price(down, FIVES, floored) == 40_00
    quote = quotes(floored, [ChannelTerms(id="a", name="A", rule=down)], FIVES, NO_TAX)[0]
    assert quote.is_at_floor
    assert not quotes(floored, [ChannelTerms(id="a", name="A")], FIVES, NO_TAX)[0].is_at_floor


@pytest.mark.parametrize("terms", [{"step_minor": 0}, {"step_minor": 5, "below_minor": 5}])
def test_points_that_are_none_are_refused(terms: dict[str, int]) -> None:
    with pytest.raises(PriceRuleError):
        msgspec.convert(terms, PricePoints)


def test_a_rule_marks_up_first_and_then_adds_its_offset() -> None:
    assert one_price(PriceRule(markup_ppm=100_000, offset_minor=2_00)) == 46_00
    assert one_price(PriceRule(offset_minor=-50_00)) == 0


def test_the_same_price_or_the_same_take_home_as_another_channel() -> None:
    assert one_price(PriceRule(starts_at="price_of", of="online")) == 40_00
    # 40.00 less 12 % is 35.20; 36.10 less 2.5 % (0.90) is 35.20.
    assert one_price(PriceRule(starts_at="take_home_of", of="online")) == 36_10


def test_a_rule_about_itself_or_nobody_is_refused() -> None:
    for rules in (
        [("stall", "stall")],
        [("stall", "nowhere")],
        [("stall", "other"), ("other", "stall")],
    ):
        channels = [
            ChannelTerms(id=one, name=one, rule=PriceRule(starts_at="price_of", of=other))
            for one, other in rules
        ]
        with pytest.raises(PriceRuleError):
            quotes(an_item(), channels, ANY_PRICE, NO_TAX)


def test_an_event_s_price_earns_its_pitch_fee_back() -> None:
    recovery = PitchRecovery(pitch_fee_minor=90_00, expected_pieces=14)
    assert pitch_share(recovery) == 6_43
    price = one_price(PriceRule(recovers=recovery))
    # 40.00 leaves 39.00; 46.60 less 1.17 leaves 45.43.
    assert price == 46_59
    assert one_price(PriceRule(recovers=recovery), FIVES) == 45_00
    with pytest.raises(PriceRuleError):
        PitchRecovery(pitch_fee_minor=90_00, expected_pieces=0)


def test_an_item_stands_on_every_channel_side_by_side() -> None:
    tax = TaxSettings(mode="included", rates=(TaxRate(name="tax", rate_ppm=200_000),))
    channels = [
        ChannelTerms(id="online", name="Online", fees=COMMISSION),
        ChannelTerms(id="direct", name="Direct", rule=PriceRule(markup_ppm=-100_000)),
    ]
    online, direct = quotes(an_item(60_00), channels, WHOLE, tax)
    # 60.00: fee 7.20, tax a sixth 10.00, cost 12.00. 54.00: no fee, tax 9.00.
    assert (online.price_minor, online.take_home.take_home_minor) == (60_00, 52_80)
    assert (online.tax_minor, online.margin_minor, online.margin_ppm) == (10_00, 30_80, 513_333)
    assert (direct.price_minor, direct.margin_minor) == (54_00, 33_00)


def test_tax_on_top_of_prices_takes_nothing_from_the_margin() -> None:
    tax = TaxSettings(mode="added", rates=(TaxRate(name="tax", rate_ppm=200_000),))
    channels = [ChannelTerms(id="online", name="Online", fees=COMMISSION)]
    [online] = quotes(an_item(60_00), channels, WHOLE, tax)
    # 60.00: fee 7.20, cost 12.00; the 12.00 of tax is the customer's.
    assert (online.tax_minor, online.margin_minor) == (0, 40_80)


def test_without_a_cost_there_is_no_margin() -> None:
    (quote,) = quotes(an_item(cost_minor=None), [ChannelTerms(id="a", name="A")], ANY_PRICE, NO_TAX)
    assert quote.margin_minor is None


def test_a_preview_shows_what_a_rule_changes_on_the_rail() -> None:
    stall = ChannelTerms(id="stall", name="Stall", rule=PriceRule(offset_minor=-4_00))
    changes = price_changes([(an_item(40_00), 40_00), (an_item(15_00), None)], stall, [], FIVES)
    assert [(c.old_minor, c.new_minor, c.change_minor) for c in changes] == [
        (40_00, 35_00, -5_00),
        (None, 10_00, None),
    ]


def test_a_rule_survives_json() -> None:
    rule = PriceRule(
        starts_at="price_of", of="online", points=FIVES,
        recovers=PitchRecovery(pitch_fee_minor=1, expected_pieces=1),
    )  # fmt: skip
    assert msgspec.json.decode(msgspec.json.encode(rule), type=PriceRule) == rule
