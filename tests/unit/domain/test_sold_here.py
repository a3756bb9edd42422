"""What pieces left over their cost at an event; expected values by pencil."""

from __future__ import annotations

import msgspec
from tests.unit.domain.event_makers import a_payment, a_piece, a_refund, a_sale, taken

from stallkeep.domain.elsewhere import SoldHere
from stallkeep.domain.event_facts import EventFacts
from stallkeep.domain.sold_here import matched_pieces, missing_pieces
from stallkeep.domain.tax import TaxRate, TaxSettings

VAT = TaxSettings(mode="included", rates=(TaxRate(name="VAT", rate_ppm=200_000),))


def over(pieces: list[SoldHere]) -> list[int]:
    return [piece.over_cost_minor for piece in pieces]


def test_a_piece_bears_its_part_of_the_fee_and_its_tax() -> None:
    coat, cup = a_piece(60_00, 12_00), a_piece(12_00, 2_00)
    facts = EventFacts(currency="EUR", takings=(a_sale(coat, cup, fee_minor=1_80),), tax=VAT)
    # 60 - 1.50 fee - 10 tax - 12 and 12 - 0.30 fee - 2 tax - 2
    assert over([*matched_pieces(facts)]) == [36_50, 7_70]


def test_money_given_back_for_what_was_kept_is_no_earning() -> None:
    coat, cup = a_piece(60_00, 12_00), a_piece(12_00, 2_00, is_returned=True)
    sale = a_sale(coat, cup, fee_minor=0)
    refund = msgspec.structs.replace(a_refund(-22_00), of=sale.id)
    facts = EventFacts(currency="EUR", takings=(sale,), refunds=(refund,))
    # 22 given back, 12 of them for the cup that came back: 60 - 10 - 12
    assert over([*matched_pieces(facts)]) == [38_00]
    taxed = msgspec.structs.replace(facts, tax=VAT)
    # 60 - 10 tax - 12, less 10 given back with 1.67 of tax in it
    assert over([*matched_pieces(taxed)]) == [29_67]


def test_what_was_given_back_of_settled_payments_is_not_taken_off_others() -> None:
    back = a_piece(30_00, 5_00, is_returned=True)
    sale = a_sale(back, fee_minor=0)
    refund = msgspec.structs.replace(a_refund(-30_00), of=sale.id)
    facts = EventFacts(
        currency="EUR",
        takings=(sale, a_payment(45_00)),
        refunds=(refund, a_refund(-5_00)),
        rail=(taken("coat", 30_00, 5_00, home=0),),
    )
    assert over([*missing_pieces(facts)]) == [35_00]  # 45 - 5 - 5


def test_tax_on_top_of_the_price_takes_nothing_from_what_a_piece_leaves() -> None:
    on_top = msgspec.structs.replace(VAT, mode="added")
    coat = a_piece(60_00, 12_00)
    facts = EventFacts(currency="EUR", takings=(a_sale(coat, fee_minor=0),), tax=on_top)
    assert over([*matched_pieces(facts)]) == [48_00]


def test_pieces_brought_back_or_without_a_cost_are_left_out() -> None:
    back, unknown = a_piece(30_00, 5_00, is_returned=True), a_piece(20_00, None)
    facts = EventFacts(currency="EUR", takings=(a_sale(back, unknown),))
    assert over([*matched_pieces(facts)]) == []


def test_pieces_held_in_number_count_one_by_one_and_keep_the_cents() -> None:
    facts = EventFacts(currency="EUR", takings=(a_sale(a_piece(10_00, 0, quantity=3)),))
    assert over([*matched_pieces(facts)]) == [3_34, 3_33, 3_33]


def test_missing_pieces_share_the_unsettled_takings_by_their_prices() -> None:
    facts = EventFacts(
        currency="EUR",
        takings=(a_payment(45_00, fee_minor=1_00),),
        refunds=(a_refund(-8_00),),
        rail=(taken("coat", 30_00, 5_00, home=0), taken("cup", 15_00, 1_00, home=0)),
    )
    # 45 - 1 fee - 8 given back = 36, two thirds and one third of it
    assert over([*missing_pieces(facts)]) == [19_00, 11_00]


def test_nothing_is_missing_from_a_rail_that_nobody_counted() -> None:
    facts = EventFacts(
        currency="EUR", takings=(a_payment(45_00),), rail=(taken("coat", 30_00, 5_00),)
    )
    assert over([*missing_pieces(facts)]) == []
