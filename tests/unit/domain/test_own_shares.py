"""What a forecast takes from earlier events, and its advice; expected values by pencil."""

from __future__ import annotations

import pytest
from tests.unit.domain.event_makers import a_piece, a_sale, taken

from stallkeep.domain.event_facts import EventFacts
from stallkeep.domain.forecast_words import advice
from stallkeep.domain.own_shares import card_share_ppm, paid_share_ppm, sell_through_ppm
from stallkeep.domain.results import event_result


def an_event() -> EventFacts:
    """A coat of 50 goes for 45 by card, two cups of 10 each for 18 in cash; a jug comes home."""
    return EventFacts(
        currency="EUR",
        takings=(
            a_sale(a_piece(45_00, item_id="coat")),
            a_sale(a_piece(18_00, item_id="cup", quantity=2), method="cash"),
        ),
        rail=(taken("coat", 50_00), taken("cup", 10_00, quantity=2), taken("jug", 30_00)),
    )


def test_the_paid_share_is_what_pieces_brought_over_what_their_tags_asked() -> None:
    assert paid_share_ppm([an_event()]) == 900_000  # 63 of 70


def test_a_piece_without_a_price_on_its_tag_says_nothing_of_the_paid_share() -> None:
    event = EventFacts(
        currency="EUR",
        takings=(a_sale(a_piece(45_00, item_id="coat")),),
        rail=(taken("coat", None),),
    )
    assert paid_share_ppm([event]) == 1_000_000
    assert paid_share_ppm([]) == 1_000_000


def test_the_card_share_is_of_all_takings() -> None:
    assert card_share_ppm([event_result(an_event())]) == 714_286  # 45 of 63
    assert card_share_ppm([]) == 1_000_000


def test_the_usual_sell_through_is_over_all_events_together() -> None:
    assert sell_through_ppm([event_result(an_event())] * 2) == 750_000  # 6 of 8
    assert sell_through_ppm([event_result(EventFacts(currency="EUR"))]) is None


@pytest.mark.parametrize(
    ("fee_minor", "highest_minor", "word"),
    [
        (80_00, 80_00, "is worth booking"),
        (80_01, 80_00, "is a risk"),
        (80_00, 0, "is not worth booking"),
        (0, 0, "is worth booking"),
    ],
)
def test_the_advice_weighs_the_fee_against_the_highest(
    fee_minor: int, highest_minor: int, word: str
) -> None:
    assert word in advice(fee_minor, highest_minor, 0.8, "EUR")
