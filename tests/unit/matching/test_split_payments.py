from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from tests.unit.matching.worlds_small import DAY, a_line, a_piece, evidence

from stallkeep.domain.matching import Finding, MoneyLine, RailPiece, Ruling, reconcile

TAGS = (1200, 1500, 1800, 2200, 2500, 2800, 3200, 3500, 3900, 4200, 4600, 8540)


def rail() -> list[RailPiece]:
    return [a_piece(f"p{i}", price) for i, price in enumerate(TAGS)]


def at(hour: int, minute: int = 0) -> dt.datetime:
    return dt.datetime.combine(DAY, dt.time(hour, minute), tzinfo=dt.UTC)


def a_day(*lines: MoneyLine, **more: Any) -> list[Finding]:  # noqa: ANN401
    """The day's findings of parts; six plain sales stand beside the lines."""
    plain = [
        a_line(f"s{i}", TAGS[i], occurred_at=at(10 + i), method="card", tag_code=None)
        for i in range(6)
    ]
    result = reconcile(evidence(rail(), [*plain, *lines], **more))
    return [f for f in result.findings if f.code == "perhaps-one-sale"]


def card(amount: int, minute: int = 0, **more: Any) -> MoneyLine:  # noqa: ANN401
    return a_line("card", amount, method="card", occurred_at=at(17, minute), **more)


def cash(amount: int, minute: int = 0, **more: Any) -> MoneyLine:  # noqa: ANN401
    return a_line("cash", amount, method="cash", occurred_at=at(17, minute), **more)


def test_two_odd_amounts_that_make_a_tag_together_are_told() -> None:
    (found,) = a_day(card(6540), cash(2000, 1))
    assert set(found.transaction_ids) == {"card", "cash"}
    assert found.amount_minor == 8540
    assert 0.5 < found.probability < 1.0
    assert found.sentence == ("65.40 by card and 20.00 in cash may be parts of one sale of 85.40.")


def test_it_is_told_and_never_done() -> None:
    lines = [card(6540), cash(2000, 1)]
    result = reconcile(evidence(rail(), lines))
    assert all(a.state != "matched" for a in result.answers)


def test_two_amounts_that_are_tags_are_two_sales_though_their_sum_is_one_too() -> None:
    assert 4600 in TAGS
    assert a_day(card(1800), cash(2800, 1)) == []


def test_hours_apart_they_are_not_one_sale() -> None:
    late = a_line("cash", 2000, method="cash", occurred_at=at(12))
    assert a_day(card(6540), late) == []


def test_a_note_makes_it_more_likely() -> None:
    plain = a_day(card(6540), cash(2000, 5))
    noted = a_day(card(6540, note="rest in cash"), cash(2000, 5))
    before = plain[0].probability if plain else 0.0
    assert noted[0].probability > before


def test_a_line_of_a_tally_without_a_time_is_a_part_where_a_note_says_so() -> None:
    untimed = a_line("cash", 2000, method="cash", note="rest of the long coat")
    (found,) = a_day(card(6540), untimed)
    assert set(found.transaction_ids) == {"card", "cash"}


def test_a_code_beside_a_part_counts_with_the_sum() -> None:
    pieces = [a_piece("long", 8500, tag_code="K5T8AC"), *rail()]
    lines = [card(5000, note="K5T8AC"), cash(3500, 1)]
    plain = [a_line(f"s{i}", TAGS[i], occurred_at=at(10 + i), method="card") for i in range(6)]
    result = reconcile(evidence(pieces, [*plain, *lines]))
    (found,) = [f for f in result.findings if f.code == "perhaps-one-sale"]
    assert found.amount_minor == 8500


def test_two_cards_may_share_a_sale() -> None:
    other = a_line("other", 4000, method="card", occurred_at=at(17, 1))
    found = a_day(card(4540), other)
    assert [f.amount_minor for f in found] == [8540]


def test_the_same_charge_twice_is_no_split() -> None:
    again = a_line("again", 4270, method="card", occurred_at=at(17, 1))
    assert a_day(card(4270), again) == []


@pytest.mark.parametrize(("one", "other"), [("cash", "card"), ("card", "cash")])
def test_two_sales_by_a_persons_word_are_not_told_of(one: str, other: str) -> None:
    ruling = Ruling(transaction_id=one, verdict="apart", related_id=other)
    assert a_day(card(6540), cash(2000, 1), rulings=(ruling,)) == []
    elsewhere = Ruling(transaction_id=one, verdict="apart", related_id="s1")
    assert len(a_day(card(6540), cash(2000, 1), rulings=(elsewhere,))) == 1


def test_what_a_person_settled_is_left_alone() -> None:
    ruling = Ruling(transaction_id="cash", verdict="no_piece")
    assert a_day(card(6540), cash(2000, 1), rulings=(ruling,)) == []


@pytest.mark.parametrize("method", [None, "other", "transfer"])
def test_only_cards_and_cash_are_paired(method: str | None) -> None:
    other = a_line("other", 2000, method=method, occurred_at=at(17, 1))
    assert a_day(card(6540), other) == []


def test_one_payment_is_shared_out_between_two_that_would_fit() -> None:
    twin = a_line("twin", 2000, method="cash", occurred_at=at(17, 1))
    alone = a_day(card(6540), cash(2000, 1))[0].probability
    found = a_day(card(6540), cash(2000, 1), twin)
    assert all(f.probability < alone for f in found)
    assert sum(f.probability for f in found) <= 1.0


def test_a_joined_sale_brings_its_pieces_what_all_parts_paid() -> None:
    rulings = (
        Ruling(transaction_id="card", verdict="confirmed", item_ids=("p11",)),
        Ruling(transaction_id="cash", verdict="part_of_sale", related_id="card"),
    )
    result = reconcile(evidence(rail(), [card(6540), cash(2000, 1)], rulings=rulings))
    whole, part = result.answers
    assert (whole.state, whole.item_ids, whole.prices_minor) == ("matched", ("p11",), (8540,))
    assert (part.state, part.item_ids, part.related_id) == ("matched", (), "card")
    assert result.findings == ()
