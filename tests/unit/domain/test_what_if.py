"""What other prices, pitches, days and helpers would do."""

from __future__ import annotations

import pytest
from tests.unit.domain.event_makers import a_day, a_piece, a_sale

from stallkeep.domain.errors import NeverBreaksEvenError
from stallkeep.domain.results import EventFacts, event_result
from stallkeep.domain.what_if import (
    Basis,
    basis_of,
    fewer_helpers,
    one_more_day,
    other_pitch,
    other_prices,
)


def a_basis(
    *,
    price_minor: int = 40_00,
    cost_minor: int = 15_00,
    pieces: int = 12,
    fixed_minor: int = 300_00,
    fees_minor: int = 0,
    days: int = 2,
) -> Basis:
    return Basis(
        currency="EUR",
        takings_minor=price_minor * pieces,
        tax_minor=0,
        fees_minor=fees_minor,
        goods_minor=cost_minor * pieces,
        fixed_minor=fixed_minor,
        pieces=pieces,
        days=days,
    )


def test_a_price_cut_needs_the_textbook_change_in_sales() -> None:
    # Nagle, The Strategy and Tactics of Pricing (from memory): price 10, variable cost 5.50; 5 %
    # lower needs 12.5 % more sales; in general -change / (margin + change).
    basis = a_basis(price_minor=10_00, cost_minor=5_50, pieces=4000, fixed_minor=15000_00)
    answer = other_prices(basis, share_ppm=-50_000)
    assert answer.sales_change_ppm == 125_000
    assert answer.pieces_for_same_net == 4500


def test_ten_more_on_a_forty_piece_decides_between_loss_and_profit_on_a_dozen_sales() -> None:
    # Common practice, no source.
    basis = a_basis(cost_minor=15_00, pieces=12, fixed_minor=350_00)
    assert basis.net_minor == -50_00
    answer = other_prices(basis, offset_minor=10_00)
    assert answer.net_minor == 70_00
    assert answer.change_minor == 120_00
    # 9 at a margin of 35 earn -35, 8 only -70: nine are enough for the old loss of 50.
    assert answer.pieces_for_same_net == 9
    assert "9 pieces instead of 12" in answer.sentence


def test_fees_move_with_the_prices() -> None:
    basis = a_basis(fees_minor=12_00)
    # 480 with 2.5 % fees; at 10 % more: 528 less 13.20 less 180 less 300.
    answer = other_prices(basis, share_ppm=100_000)
    assert answer.net_minor == 34_80
    assert answer.question == "every price 10 % higher"


def test_a_price_below_cost_is_made_up_by_no_number_of_pieces() -> None:
    answer = other_prices(a_basis(), offset_minor=-25_00)
    assert answer.pieces_for_same_net is None
    assert answer.sales_change_ppm is None
    assert "no number of pieces" in answer.sentence


def test_a_bigger_pitch_needs_whole_extra_pieces() -> None:
    # 60 more at a margin of 25 a piece: 2.4, so 3.
    answer = other_pitch(a_basis(), 60_00)
    assert (answer.pieces_for_same_net, answer.net_minor) == (15, -60_00)
    assert "it takes 3 pieces more" in answer.sentence
    cheaper = other_pitch(a_basis(), -60_00)
    assert cheaper.pieces_for_same_net == 10
    assert "2 pieces fewer" in cheaper.sentence


def test_one_more_day_pays_from_a_number_of_pieces_on() -> None:
    # Six pieces a day at 25 earn 150; the day costs 110: 40 gained, and 5 pieces cover it.
    answer = one_more_day(a_basis(), 110_00)
    assert (answer.change_minor, answer.pieces) == (40_00, 18)
    assert "it pays from 5 pieces on" in answer.sentence


def test_a_helper_saved_may_cost_so_many_pieces() -> None:
    # 80 saved at a margin of 25: three pieces lost are still worth it.
    answer = fewer_helpers(a_basis(), 80_00)
    assert answer.change_minor == 80_00
    assert answer.pieces_for_same_net == 9
    assert "more than 3 pieces go unsold" in answer.sentence


def test_the_figures_are_taken_from_an_event_s_statement() -> None:
    facts = EventFacts(
        currency="EUR",
        days=(a_day(pitch_fee_minor=50_00),),
        takings=tuple(a_sale(a_piece(40_00, 10_00), fee_minor=1_00) for _ in range(4)),
    )
    whole = event_result(facts).whole
    basis = basis_of(whole, "EUR", 1)
    assert basis.net_minor == whole.net.expected_minor == 66_00
    assert other_prices(basis).change_minor == 0


def test_where_nothing_was_sold_there_is_nothing_to_reckon_with() -> None:
    with pytest.raises(NeverBreaksEvenError):
        basis_of(event_result(EventFacts(currency="EUR")).whole, "EUR", 1)
