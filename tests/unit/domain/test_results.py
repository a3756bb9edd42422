"""The result of an event, worked out with a pencil beside each figure."""

from __future__ import annotations

import datetime as dt

import msgspec
import pytest
from tests.unit.domain.event_makers import (
    SATURDAY,
    SUNDAY,
    a_day,
    a_payment,
    a_piece,
    a_refund,
    a_sale,
    taken,
)

from stallkeep.domain.fees import FeePart, FeeSchedule
from stallkeep.domain.results import (
    Cost,
    EventFacts,
    EventResult,
    Possibility,
    SoldPiece,
    TakenPiece,
    Takings,
    event_entries,
    event_result,
)
from stallkeep.domain.tax import TaxRate, TaxSettings

CARD = {"card": FeeSchedule(parts=(FeePart(name="card fee", kind="payment", rate_ppm=25_000),))}
TAX_INCLUDED = TaxSettings(mode="included", rates=(TaxRate(name="tax", rate_ppm=200_000),))


def a_weekend() -> EventFacts:
    """Two days, all pieces matched, everything entered and counted."""
    coat = a_piece(40_00, 12_00, "coat", category="coats")
    cup = a_piece(15_00, 3_00, "cup", category="ceramics")
    jug = a_piece(25_00, 5_00, "jug", category="ceramics")
    return EventFacts(
        currency="EUR",
        days=(
            a_day(
                SATURDAY,
                pitch_fee_minor=20_00,
                float_minor=50_00,
                counted_cash_minor=64_00,
                every_cash_sale_noted=True,
            ),
            a_day(SUNDAY, open_minutes=360, pitch_fee_minor=20_00),
        ),
        takings=(
            a_sale(coat, fee_minor=1_00),
            a_sale(cup, method="cash"),
            a_sale(jug, day=SUNDAY, tip_minor=2_00, fee_minor=50),
        ),
        costs=(Cost(id="van", kind="travel", amount_minor=9_01),),
        rail=(
            taken("coat", 45_00, 12_00, home=0, category="coats"),
            taken("cup", 15_00, 3_00, home=0, category="ceramics"),
            taken("jug", 25_00, 5_00, home=0, category="ceramics"),
            taken("hat", 8_00, 2_00, home=1),
        ),
        own_minutes={"selling": 840, "packing": 60},
    )


def test_a_finished_weekend_adds_up_with_a_pencil() -> None:
    result = event_result(a_weekend())
    whole = result.whole
    assert result.missing == ()
    assert result.is_final
    # 40 + 15 + 27; cost 12 + 3 + 5; fees 1.00 + 0.50; pitch 2 x 20; van 9.01; box 1.00 short.
    assert whole.takings_minor == 82_00
    assert whole.tips_minor == 2_00
    assert whole.net_sales_minor == 82_00
    assert whole.cost_of_goods.expected_minor == 20_00
    assert whole.gross_margin.expected_minor == 62_00
    assert whole.fees_minor == 1_50
    assert [(cost.kind, cost.amount_minor) for cost in whole.costs] == [
        ("pitch_fee", 40_00),
        ("travel", 9_01),
    ]
    assert whole.over_short_minor == -1_00
    assert whole.net.expected_minor == 10_49
    assert whole.net.is_fact
    # 10.49 over 3 sold, 4 taken, 14 hours open, 15 own hours.
    assert whole.rates.per_piece_sold_minor == 3_50
    assert whole.rates.per_piece_taken_minor == 2_62
    assert whole.rates.per_open_hour_minor == 75
    assert whole.rates.per_own_hour_minor == 70
    # 40 of 82 and 40 of 62.
    assert whole.pitch_of_takings_ppm == 487_805
    assert whole.pitch_of_margin_ppm == 645_161


def test_each_day_has_its_own_statement_and_they_sum_to_the_whole() -> None:
    saturday, sunday = event_result(a_weekend()).days
    # Saturday: 55 - 15 - 1 - 20 - 4.51 - 1; Sunday: 27 - 5 - 0.50 - 20 - 4.50.
    assert saturday.statement.net.expected_minor == 13_49
    assert sunday.statement.net.expected_minor == -3_00
    assert saturday.statement.rates.per_open_hour_minor == 1_69
    assert [day.statement.pieces.sold for day in (saturday, sunday)] == [2, 1]
    assert sum(cost.amount_minor for cost in saturday.statement.costs) == 24_51


def test_takings_stand_per_method_and_state_and_add_up() -> None:
    result = event_result(a_weekend())
    assert [(m.method, m.matched_minor, m.takings_minor) for m in result.methods] == [
        ("card", 67_00, 67_00),
        ("cash", 15_00, 15_00),
    ]
    assert result.adds_up


def test_break_even_is_in_whole_pieces_and_takings_rounded_up() -> None:
    even = event_result(a_weekend()).whole.break_even
    assert even is not None
    # Fixed 49.01, contribution 62 - 1.50 = 60.50 over 3 pieces and takings of 82.
    assert even.pieces == 3
    assert even.takings_minor == 66_43
    assert even.safety_minor == 15_57
    assert even.safety_ppm == 189_878


def test_sell_through_in_all_by_category_and_by_price_band() -> None:
    result = event_result(a_weekend())
    assert (result.sell_through.sold, result.sell_through.taken) == (3, 4)
    assert result.sell_through.share_ppm == 750_000
    assert [(s.name, s.sold, s.taken) for s in result.by_category] == [
        ("ceramics", 2, 2),
        ("coats", 1, 1),
        ("without a category", 0, 1),
    ]
    assert [(s.name, s.sold, s.taken) for s in result.by_price_band] == [
        ("0.00 to 9.99", 0, 1),
        ("10.00 to 24.99", 1, 1),
        ("25.00 to 49.99", 2, 2),
    ]


def test_specific_identification_costs_each_piece_at_its_own() -> None:
    # OpenStax Principles of Accounting Vol. 1, inventory (m67890): 120 sold at 36 and 180 at 39;
    # 140 of them had cost 21 and 160 had cost 27: cost 7,260, gross margin 4,080.
    pieces = (
        a_piece(120 * 36, 120 * 21, quantity=120),
        a_piece(20 * 39, 20 * 21, quantity=20),
        a_piece(160 * 39, 160 * 27, quantity=160),
    )
    whole = event_result(EventFacts(currency="USD", takings=(a_sale(*pieces),))).whole
    assert whole.takings_minor == 11340
    assert whole.cost_of_goods.expected_minor == 7260
    assert whole.gross_margin.expected_minor == 4080
    assert whole.pieces.sold == 300


def test_a_two_day_market_pays_the_pitch_twice_and_that_is_its_largest_cost() -> None:
    # Common practice, no source: a two-day market charges the pitch per day, and it is usually
    # the largest single cost.
    sales = tuple(
        a_sale(a_piece(40_00, 10_00), day=d) for d in (SATURDAY, SUNDAY) for _ in range(7)
    )
    facts = EventFacts(
        currency="EUR",
        days=(a_day(SATURDAY, pitch_fee_minor=90_00), a_day(SUNDAY, pitch_fee_minor=90_00)),
        takings=sales,
        costs=(Cost(id="fuel", kind="travel", amount_minor=30_00),),
    )
    whole = event_result(facts).whole
    assert max(whole.costs, key=lambda cost: cost.amount_minor).kind == "pitch_fee"
    assert whole.costs[0].amount_minor == 180_00


def test_cash_beyond_the_noted_lines_is_unmatched_takings() -> None:
    facts = EventFacts(
        currency="EUR",
        days=(a_day(float_minor=50_00, counted_cash_minor=95_00, taken_out_minor=20_00),),
        takings=(a_sale(a_piece(15_00, 5_00), method="cash"),),
        refunds=(a_refund(-5_00, method="cash"),),
    )
    result = event_result(facts)
    # 95 - 50 + 20 + 5 = 70 of cash takings, 15 of them noted.
    (cash,) = result.methods
    assert (cash.takings_minor, cash.matched_minor, cash.unmatched_minor) == (70_00, 15_00, 55_00)
    assert cash.adds_up
    assert result.cash_boxes[0].over_short_minor is None
    assert any("55.00 in the cash box of 2026-05-02 has no line" in note for note in result.notes)


def test_a_box_with_less_than_expected_is_short_however_sales_were_noted() -> None:
    for noted in (True, False):
        day = a_day(float_minor=50_00, counted_cash_minor=60_00, every_cash_sale_noted=noted)
        sale = a_sale(a_piece(15_00), method="cash")
        result = event_result(EventFacts(currency="EUR", days=(day,), takings=(sale,)))
        assert result.whole.over_short_minor == -5_00
        assert result.whole.takings_minor == 15_00


def test_a_box_counted_without_a_float_says_so_and_claims_nothing() -> None:
    facts = EventFacts(currency="EUR", days=(a_day(counted_cash_minor=95_00),))
    result = event_result(facts)
    assert result.whole.takings_minor == 0
    assert (
        "The float of 2026-05-02 is not entered, so its cash cannot be checked." in result.missing
    )


def test_an_unmatched_payment_costs_the_event_s_usual_share_with_a_range() -> None:
    facts = EventFacts(
        currency="EUR",
        takings=(
            a_sale(a_piece(40_00, 10_00)),
            a_sale(a_piece(10_00, 5_00)),
            a_payment(20_00),
        ),
    )
    goods = event_result(facts).whole.cost_of_goods
    # Known 15 of 50, a share of 30 %, single shares 25 and 50 %.
    assert goods.expected_minor == 15_00 + 6_00
    assert (goods.low_minor, goods.high_minor) == (15_00 + 5_00, 15_00 + 10_00)
    net = event_result(facts).whole.net
    assert (net.low_minor, net.expected_minor, net.high_minor) == (45_00, 49_00, 50_00)


def test_a_proposed_payment_costs_what_it_may_have_been() -> None:
    payment = msgspec.structs.replace(
        a_payment(40_00),
        state="proposed",
        possibilities=(
            Possibility(probability=0.5, pieces=1, cost_minor=10_00),
            Possibility(probability=0.25, pieces=2, cost_minor=18_00),
            Possibility(probability=0.25, pieces=0, cost_minor=None),
        ),
    )
    whole = event_result(EventFacts(currency="EUR", takings=(payment,))).whole
    assert whole.cost_of_goods.expected_minor == 9_50
    assert (whole.cost_of_goods.low_minor, whole.cost_of_goods.high_minor) == (0, 18_00)
    assert whole.pieces.estimated == 1


def test_what_is_left_unexplained_of_a_payment_takes_the_usual_share() -> None:
    payment = msgspec.structs.replace(
        a_payment(20_00),
        state="proposed",
        possibilities=(Possibility(probability=0.75, pieces=1, cost_minor=8_00),),
    )
    facts = EventFacts(currency="EUR", takings=(a_sale(a_piece(40_00, 10_00)), payment))
    # 0.75 x 8 + 0.25 x (25 % of 20).
    assert event_result(facts).whole.cost_of_goods.expected_minor == 10_00 + 7_25


def test_a_count_that_open_payments_bear_out_settles_the_cost_of_goods() -> None:
    facts = EventFacts(
        currency="EUR",
        days=(a_day(SATURDAY), a_day(SUNDAY)),
        takings=(
            a_sale(a_piece(40_00, 10_00, "coat")),
            a_payment(30_00),
            a_payment(10_00, day=SUNDAY),
        ),
        rail=(
            taken("coat", 40_00, 10_00, home=0),
            taken("cup", 15_00, 3_00, home=0, quantity=2),
            taken("jug", 25_00, 5_00, home=1),
        ),
    )
    result = event_result(facts)
    goods = result.whole.cost_of_goods
    assert (goods.low_minor, goods.expected_minor, goods.high_minor) == (16_00, 16_00, 16_00)
    # Known is only what a payment was matched to; the cups are gone by the count's word.
    assert (result.whole.pieces.known, result.whole.pieces.estimated) == (1, 2)
    # The two cups are shared over the days by their unsettled payments, 30 to 10.
    by_day = [day.statement.cost_of_goods.expected_minor for day in result.days]
    assert by_day == [10_00 + 4_50, 1_50]
    assert any("2 pieces gone by the stock count" in note for note in result.notes)


def test_a_count_that_misses_more_than_was_paid_for_leaves_the_cost_a_range() -> None:
    facts = EventFacts(
        currency="EUR",
        takings=(a_sale(a_piece(40_00, 10_00, "coat")), a_payment(12_00)),
        rail=(
            taken("coat", 40_00, 10_00, home=0),
            taken("cup", 15_00, 3_00, home=0),
            taken("jug", 25_00, 5_00, home=0),
        ),
    )
    result = event_result(facts)
    goods, net = result.whole.cost_of_goods, result.whole.net
    # One payment of 12.00 at a quarter of the price needs 3.00 of goods; the count misses 8.00.
    assert (goods.low_minor, goods.expected_minor, goods.high_minor) == (13_00, 18_00, 18_00)
    assert net.high_minor - net.low_minor == 5_00


def test_a_piece_with_a_payment_that_was_counted_home_is_pointed_out() -> None:
    facts = EventFacts(
        currency="EUR",
        takings=(a_sale(a_piece(40_00, 10_00, "coat")),),
        rail=(taken("coat", 40_00, 10_00, home=1),),
    )
    result = event_result(facts)
    assert result.sell_through.sold == 1
    assert any("coat has a payment but was counted" in note for note in result.notes)


def test_fees_come_from_the_export_else_from_the_schedule_else_are_missing() -> None:
    told = a_sale(a_piece(40_00), fee_minor=69)
    untold = a_sale(a_piece(40_00), fee_minor=None)
    with_schedule = EventFacts(currency="EUR", takings=(told, untold), fee_schedules=CARD)
    result = event_result(with_schedule)
    # Common practice, no source: card fees are near two and a half per cent.
    assert result.whole.fees_minor == 69 + 1_00
    assert any("1 card payment is worked out" in note for note in result.notes)
    assert any(entry.basis == "schedule" for entry in event_entries(with_schedule))
    without = event_result(EventFacts(currency="EUR", takings=(told, untold)))
    assert without.whole.fees_minor == 69
    assert "The card fee of 40.00 (1 payment) is not known; it counts as 0." in without.missing


def test_a_refund_lowers_sales_and_a_piece_brought_back_costs_nothing() -> None:
    facts = EventFacts(
        currency="EUR",
        takings=(
            a_sale(a_piece(40_00, 10_00, is_returned=True), fee_minor=1_00),
            a_sale(a_piece(20_00, 6_00)),
        ),
        refunds=(a_refund(-40_00, fee_minor=-1_00),),
    )
    whole = event_result(facts).whole
    assert (whole.takings_minor, whole.refunds_minor, whole.net_sales_minor) == (
        60_00,
        40_00,
        20_00,
    )
    assert whole.cost_of_goods.expected_minor == 6_00
    assert whole.fees_minor == 0
    assert whole.pieces.sold == 1
    assert whole.net.expected_minor == 14_00


def test_money_that_is_no_earning_stands_in_the_takings_and_is_taken_off() -> None:
    test_payment = msgspec.structs.replace(a_payment(1_00), state="set_aside", is_income=False)
    found = msgspec.structs.replace(a_payment(3_00), state="set_aside")
    result = event_result(EventFacts(currency="EUR", takings=(test_payment, found)))
    assert result.methods[0].set_aside_minor == 4_00
    assert result.whole.takings_minor == 4_00
    assert result.whole.not_income_minor == 1_00
    assert result.whole.net.expected_minor == 3_00


def test_tax_inside_payments_is_taken_off_tips_and_margin_scheme_pieces_apart() -> None:
    facts = EventFacts(
        currency="GBP",
        tax=TAX_INCLUDED,
        takings=(
            a_sale(a_piece(24_00), tip_minor=5_00),
            a_sale(a_piece(12_00), a_piece(30_00, 10_00, margin_scheme=True)),
            a_sale(a_piece(24_00), tax_minor=1_23),
        ),
        refunds=(a_refund(-12_00),),
    )
    result = event_result(facts)
    # One sixth of 24 and of 12 (GOV.UK fraction for 20 %), 1.23 as told, one sixth of 12 back.
    assert result.whole.tax_minor == 4_00 + 2_00 + 1_23 - 2_00
    scheme = result.margin_scheme
    assert scheme is not None
    assert (scheme.pieces, scheme.sales_minor, scheme.margin_minor) == (1, 30_00, 20_00)
    assert any("1 piece under a margin scheme" in note for note in result.notes)


def test_tax_rounded_per_line_may_differ_from_tax_per_receipt() -> None:
    # 4 x 0.99 at 1/6: 4 x 0.17 = 0.68 per line, 0.66 per receipt (derived).
    sale = a_sale(*(a_piece(99) for _ in range(4)))
    per_line = msgspec.structs.replace(TAX_INCLUDED, round_per="line")
    for settings, tax in ((TAX_INCLUDED, 66), (per_line, 68)):
        facts = EventFacts(currency="GBP", tax=settings, takings=(sale,))
        assert event_result(facts).whole.tax_minor == tax


def test_tax_within_costs_is_taken_off_when_the_shop_reclaims_it() -> None:
    cost = Cost(id="van", kind="travel", amount_minor=12_00, tax_minor=2_00)
    for reclaims, spent in ((True, 10_00), (False, 12_00)):
        facts = EventFacts(currency="GBP", costs=(cost,), reclaims_tax=reclaims)
        assert event_result(facts).whole.costs_minor == spent


def test_a_provider_s_fee_without_a_payment_counts_with_the_fees() -> None:
    facts = EventFacts(currency="EUR", costs=(Cost(id="f", kind="fees", amount_minor=4_99),))
    whole = event_result(facts).whole
    assert (whole.fees_minor, whole.costs) == (4_99, ())


def test_an_unfinished_event_says_what_is_missing() -> None:
    facts = EventFacts(
        currency="EUR",
        days=(
            a_day(SATURDAY, float_minor=50_00),
            a_day(SUNDAY, is_closed=False, open_minutes=None),
        ),
        takings=(
            a_sale(a_piece(40_00, None)),
            a_payment(20_00, method="cash"),
            msgspec.structs.replace(a_payment(30_00), state="proposed"),
        ),
        rail=(taken("coat", 40_00, home=0), taken("cup", 15_00, quantity=2)),
    )
    result = event_result(facts)
    assert not result.is_final
    assert result.missing == (
        "2026-05-03 is not closed yet.",
        "30.00 of takings (1 payment) has only proposed pieces.",
        "20.00 of takings (1 payment) is matched to no piece.",
        "The purchase cost of 1 sold piece is not entered; it is estimated.",
        "The cash box of 2026-05-02 is not counted.",
        "Of 3 pieces taken, 2 pieces had no stock count after the event.",
    )
    assert result.notes[0] == "No cash is entered for 2026-05-03."
    assert "No pitch fee is entered; it counts as 0." in result.notes


def test_an_event_of_which_nothing_is_known_has_a_result_of_nothing() -> None:
    result = event_result(EventFacts(currency="EUR"))
    assert result.whole.net.expected_minor == 0
    assert result.whole.break_even is None
    assert result.sell_through.share_ppm is None
    assert result.whole.rates.per_piece_sold_minor is None
    assert result.days == ()
    assert len(result.missing) == 3


def test_a_cost_unknown_and_no_share_to_learn_from_leaves_the_whole_price_open() -> None:
    net = event_result(
        EventFacts(currency="EUR", takings=(a_sale(a_piece(40_00, None)),))
    ).whole.net
    assert (net.low_minor, net.expected_minor, net.high_minor) == (0, 40_00, 40_00)


def test_a_loss_is_a_negative_net_and_a_negative_margin_of_safety() -> None:
    facts = EventFacts(
        currency="EUR",
        days=(a_day(pitch_fee_minor=90_00),),
        takings=(a_sale(a_piece(40_00, 10_00)), a_sale(a_piece(40_00, 10_00))),
    )
    whole = event_result(facts).whole
    assert whole.net.expected_minor == -30_00
    assert whole.break_even is not None
    assert (whole.break_even.pieces, whole.break_even.safety_minor) == (3, -40_00)


def test_a_payment_on_another_day_gets_a_day_of_its_own() -> None:
    late = a_sale(a_piece(40_00), day=dt.date(2026, 5, 5))
    result = event_result(EventFacts(currency="EUR", days=(a_day(),), takings=(late,)))
    assert [day.day for day in result.days] == [SATURDAY, dt.date(2026, 5, 5)]
    assert result.days[1].statement.takings_minor == 40_00


def test_every_figure_can_be_explained_by_its_lines() -> None:
    result = event_result(a_weekend(), explain=True)
    assert result.explained is not None
    figures = {line.figure: line for line in result.explained}
    assert figures["net"].formula == "gross_margin - fees - costs + over_short"
    assert figures["net"].amount_minor == result.whole.net.expected_minor
    assert [entry.text for entry in figures["cost_of_goods"].lines] == [
        "piece coat",
        "piece cup",
        "piece jug",
    ]
    assert figures["travel"].amount_minor == -9_01
    sums = [line for line in result.explained if not line.formula]
    assert sum(line.amount_minor for line in sums) == result.whole.net.expected_minor
    assert all(line.amount_minor == sum(e.amount_minor for e in line.lines) for line in sums)


def test_the_lines_stay_away_unless_asked_for_and_the_caution_never_does() -> None:
    result = event_result(a_weekend())
    assert result.explained is None
    assert "not tax, legal or accounting advice" in result.caution


@pytest.mark.parametrize("currency", ["JPY", "KWD"])
def test_other_currencies_have_their_own_bands_and_texts(currency: str) -> None:
    facts = EventFacts(currency=currency, takings=(a_payment(4000),), rail=(taken("cup", 1500),))
    result = event_result(facts)
    amount, band = {
        "JPY": ("4000", "1000 to 2499"),
        "KWD": ("4.000", "0.000 to 9.999"),
    }[currency]
    assert any(sentence.startswith(f"{amount} of takings") for sentence in result.missing)
    assert result.by_price_band[0].name == band


def test_a_result_is_plain_json() -> None:
    result = event_result(a_weekend(), explain=True)
    assert msgspec.json.decode(msgspec.json.encode(result), type=EventResult) == result


def test_a_piece_sold_elsewhere_since_is_not_missing_and_no_reason_to_doubt_a_payment() -> None:
    def result(*, quantity: int, sold_here: int, elsewhere: int) -> tuple[int, tuple[str, ...]]:
        piece = TakenPiece(
            item_id="bowl",
            quantity=quantity,
            cost_minor=100,
            counted_home=0,
            sold_elsewhere=elsewhere,
        )
        sold = SoldPiece(item_id="bowl", price_minor=900, cost_minor=100, quantity=sold_here)
        facts = EventFacts(
            currency="EUR",
            takings=(
                Takings(
                    id="1",
                    day=dt.date(2026, 5, 2),
                    method="cash",
                    amount_minor=900,
                    state="matched",
                    pieces=(sold,),
                ),
            ),
            rail=(piece,),
        )
        found = event_result(facts)
        return found.sell_through.sold, tuple(note for note in found.notes if "bowl" in note)

    assert result(quantity=3, sold_here=1, elsewhere=0) == (3, ())
    assert result(quantity=3, sold_here=1, elsewhere=1) == (2, ())
    assert result(quantity=2, sold_here=2, elsewhere=1) == (2, ())
