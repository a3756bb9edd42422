"""The forecast of an event: the same each time, and moving the right way."""

from __future__ import annotations

import datetime as dt

import msgspec
import pytest

from stallkeep.domain.errors import ForecastInputError
from stallkeep.domain.fees import FeePart, FeeSchedule
from stallkeep.domain.forecast import Forecast, ForecastPiece, ForecastQuestion, forecast
from stallkeep.domain.sell_rate import PastEvent
from stallkeep.domain.tax import TaxRate, TaxSettings

MAY = dt.date(2026, 5, 2)


def a_rail(count: int = 120, price_minor: int = 40_00) -> tuple[ForecastPiece, ...]:
    return tuple(
        ForecastPiece(item_id=f"item {n}", price_minor=price_minor, cost_minor=price_minor // 4)
        for n in range(count)
    )


def events(*pieces: int, days: float = 1.0) -> tuple[PastEvent, ...]:
    return tuple(
        PastEvent(starts_on=MAY - dt.timedelta(days=28 * (n + 1)), days=days, pieces=count)
        for n, count in enumerate(pieces)
    )


def a_question(**changes: object) -> ForecastQuestion:
    question = ForecastQuestion(
        currency="EUR",
        starts_on=MAY,
        days=1.0,
        history=events(7, 14, 9, 12, 6, 11),
        rail=a_rail(),
        pitch_fee_minor=90_00,
        other_costs_minor=60_00,
        draws=4_000,
    )
    return msgspec.structs.replace(question, **changes)


def at(result: Forecast, percent: int) -> tuple[int, int]:
    """Pieces and net at one quantile."""
    pieces = {q.percent: q.pieces for q in result.pieces}
    net = {q.percent: q.net_minor for q in result.net}
    return pieces[percent], net[percent]


def test_the_same_question_has_the_same_answer() -> None:
    assert forecast(a_question()) == forecast(a_question())
    assert forecast(a_question(seed=2)).mean_net_minor != forecast(a_question()).mean_net_minor


def test_with_equal_pieces_the_net_is_pieces_times_margin_less_costs() -> None:
    result = forecast(a_question())
    # 40.00 less 10.00 leaves 30.00 a piece; 150.00 of costs: five pieces break even.
    assert result.margin_per_piece_minor == 30_00
    for percent in (5, 10, 25, 50, 75, 90, 95):
        pieces, net = at(result, percent)
        assert net == pieces * 30_00 - 150_00
    assert result.mean_net_minor == pytest.approx(result.mean_pieces * 30_00 - 150_00, abs=1)
    assert sum(bar.share for bar in result.histogram) == pytest.approx(1.0)
    assert 0.8 < result.chance_to_break_even < 1.0


def test_fees_tax_and_haggling_come_off_each_piece() -> None:
    result = forecast(
        a_question(
            paid_share_ppm=900_000,
            fees=FeeSchedule(parts=(FeePart(name="card", rate_ppm=25_000),)),
            card_share_ppm=500_000,
            tax=TaxSettings(mode="included", rates=(TaxRate(name="tax", rate_ppm=200_000),)),
        )
    )
    # 36.00 paid, a sixth tax 6.00, half of 0.90 fee, cost 10.00.
    assert result.margin_per_piece_minor == 36_00 - 6_00 - 45 - 10_00


def test_a_better_history_a_longer_event_and_a_cheaper_pitch_raise_the_net() -> None:
    base = forecast(a_question())
    assert at(forecast(a_question(history=events(17, 24, 19, 22, 16))), 50) > at(base, 50)
    assert at(forecast(a_question(days=2.0)), 50) > at(base, 50)
    cheaper = forecast(a_question(pitch_fee_minor=50_00))
    assert cheaper.mean_net_minor - base.mean_net_minor == 40_00
    assert cheaper.chance_to_break_even >= base.chance_to_break_even
    assert cheaper.highest_pitch_fee_minor == base.highest_pitch_fee_minor


def test_the_highest_pitch_fee_just_keeps_the_wanted_chance() -> None:
    fee = forecast(a_question()).highest_pitch_fee_minor
    assert forecast(a_question(pitch_fee_minor=fee)).chance_to_break_even >= 0.8
    assert forecast(a_question(pitch_fee_minor=fee + 1)).chance_to_break_even < 0.8
    surer = forecast(a_question(wanted_chance=0.95)).highest_pitch_fee_minor
    assert surer < fee
    assert forecast(a_question(other_costs_minor=9000_00)).highest_pitch_fee_minor == 0


def test_more_history_narrows_the_range_and_none_says_so() -> None:
    def width(history: tuple[PastEvent, ...]) -> int:
        result = forecast(a_question(history=history))
        return at(result, 90)[0] - at(result, 10)[0]

    assert width(events(*[10] * 24)) < width(events(10, 10)) < width(())
    nothing = forecast(a_question(history=()))
    assert "No earlier event is known" in nothing.limits[0]
    assert (nothing.events, nothing.prior_share) == (0, 1.0)
    assert "only 2 earlier events" in forecast(a_question(history=events(9, 12))).limits[0]
    assert forecast(a_question()).limits == ()


def test_old_events_of_another_kind_are_said_to_count_little() -> None:
    old = tuple(
        PastEvent(starts_on=dt.date(2020, 11, n), days=1.0, pieces=9, kind="town")
        for n in range(1, 6)
    )
    result = forecast(a_question(history=old, kind="harbour"))
    assert "together they count like" in result.limits[0]
    assert result.events_worth < 1


def test_no_more_is_sold_than_the_rail_holds() -> None:
    result = forecast(a_question(rail=a_rail(8)))
    assert at(result, 95)[0] == 8
    assert result.chance_rail_runs_out > 0.4
    assert result.rail.sold == result.mean_pieces
    assert result.rail.sold + result.rail.left == pytest.approx(8)
    assert result.rail.lost > 1
    assert any("more could be sold than the rail holds" in said for said in result.limits)


def test_pieces_to_have_follow_what_space_costs() -> None:
    free = forecast(a_question()).pieces_to_have
    dear = forecast(a_question(space_cost_minor=30_00)).pieces_to_have
    cheap = forecast(a_question(space_cost_minor=1_00)).pieces_to_have
    # A piece too many costs what a piece too few does: the median suffices.
    assert dear == at(forecast(a_question()), 50)[0]
    assert dear < free <= cheap
    with_choice = forecast(a_question(usual_sell_through_ppm=200_000))
    assert with_choice.pieces_to_take == with_choice.pieces_to_have * 5


def test_a_day_gone_well_lifts_the_rest_of_the_event() -> None:
    usual = forecast(a_question(pieces_so_far=10, days_so_far=1.0))
    good = forecast(a_question(pieces_so_far=25, days_so_far=1.0))
    assert good.mean_pieces > usual.mean_pieces + 2


def test_likelier_pieces_weigh_more_in_what_is_earned() -> None:
    rail = (*a_rail(60, 10_00), *a_rail(60, 70_00))
    even = forecast(a_question(rail=rail))
    cheap_first = tuple(
        msgspec.structs.replace(piece, chance=9.0 if piece.price_minor == 10_00 else 1.0)
        for piece in rail
    )
    skewed = forecast(a_question(rail=cheap_first))
    assert skewed.mean_pieces == even.mean_pieces
    assert skewed.mean_net_minor < even.mean_net_minor


def test_a_piece_without_a_cost_takes_the_rail_s_usual_share() -> None:
    rail = (*a_rail(9), ForecastPiece(item_id="new", price_minor=40_00))
    result = forecast(a_question(rail=rail))
    assert result.margin_per_piece_minor == 30_00
    assert any("1 piece has no cost" in said for said in result.limits)


def test_the_summary_and_the_caution_stand_with_the_figures() -> None:
    result = forecast(a_question())
    low, high = at(result, 10)[0], at(result, 90)[0]
    assert result.summary.startswith(f"In 8 of 10 cases {low} to {high} pieces are sold")
    assert "not tax, legal or accounting advice" in result.caution


@pytest.mark.parametrize(
    "changes",
    [
        {"rail": ()},
        {"days": 0.0},
        {"draws": 99},
        {"wanted_chance": 1.0},
        {"pieces_so_far": -1},
        {"rail": (ForecastPiece(item_id="a", price_minor=1, chance=0.0),)},
    ],
)
def test_a_question_that_cannot_be_answered_is_refused(changes: dict[str, object]) -> None:
    with pytest.raises(ForecastInputError):
        forecast(a_question(**changes))
