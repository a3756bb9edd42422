"""What cannot all be true is told by name, and stops nothing."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from tests.unit.matching.worlds_small import DAY, a_line, a_piece, evidence

from stallkeep.domain.matching import (
    Evidence,
    PieceRuling,
    RingUp,
    Ruling,
    SoldElsewhere,
    Stub,
    reconcile,
)
from stallkeep.domain.matching.findings import contradictions

NOON = dt.datetime.combine(DAY, dt.time(12), tzinfo=dt.UTC)
COAT: dict[str, Any] = {"tag_code": "K5T8AC", "title": "Navy coat"}


def told(given: Evidence) -> dict[str, str]:
    """Sentences by code, of a run that must answer every line."""
    result = reconcile(given)
    assert len(result.answers) == len(given.lines)
    return {finding.code: finding.sentence for finding in result.findings}


def test_a_piece_is_named_by_title_and_code() -> None:
    pieces = [a_piece("a", counted_home=2, **COAT)]
    stubs = (Stub(code="K5T8AC", day=DAY), Stub(code="K5T8AC", day=DAY))
    found = told(evidence(pieces, [], stubs=stubs))
    assert found["more-stubs-than-pieces"] == "2 stubs say Navy coat (K5T-8AC); 1 of it was taken."
    assert found["counted-more-than-taken"].startswith("Navy coat (K5T-8AC) was counted home 2")
    assert "Navy coat (K5T-8AC)" in found["stub-and-count-disagree"]


def test_a_stub_of_a_day_that_is_none_of_the_event_is_told() -> None:
    stubs = (Stub(code="K5T8AC", day=DAY + dt.timedelta(days=9)),)
    found = told(evidence([a_piece("a", **COAT)], [], stubs=stubs, days=(DAY,)))
    assert "1 stub is of 2031-05-19" in found["stub-day-outside-event"]


def test_a_sale_and_a_look_that_cannot_both_be_true_name_the_piece() -> None:
    given = evidence(
        [a_piece("a", **COAT)],
        [a_line("t")],
        rulings=(Ruling(transaction_id="t", verdict="confirmed", item_ids=("a",)),),
        piece_rulings=(PieceRuling(item_id="a", still_here=1),),
    )
    assert "Navy coat (K5T-8AC)" in told(given)["confirmed-but-still-here"]


def test_two_of_three_sold_and_two_seen_is_one_too_many() -> None:
    lines = [a_line("t"), a_line("u")]
    said = tuple(Ruling(transaction_id=t, verdict="confirmed", item_ids=("a",)) for t in ("t", "u"))
    for here, wrong in ((1, False), (2, True)):
        looked = (PieceRuling(item_id="a", still_here=here),)
        given = evidence(
            [a_piece("a", quantity=3, **COAT)], lines, rulings=said, piece_rulings=looked
        )
        assert ("confirmed-but-still-here" in told(given)) is wrong


@pytest.mark.parametrize(("items", "wrong"), [(("a",), True), (("a", "b"), False), ((), True)])
def test_a_number_and_pieces_that_differ_are_told(items: tuple[str, ...], wrong: bool) -> None:
    said = (
        Ruling(transaction_id="t", verdict="count", pieces=2),
        Ruling(transaction_id="t", verdict="confirmed" if items else "no_piece", item_ids=items),
    )
    pieces = [a_piece("a", **COAT), a_piece("b")]
    given = evidence(pieces, [a_line("t", occurred_at=NOON)], rulings=said)
    found = {f.code: f.sentence for f in contradictions(given)}
    assert ("number-and-pieces-disagree" in found) is wrong
    if wrong:
        assert found["number-and-pieces-disagree"].startswith("40.00 of 2031-05-10 at 12:00")


def test_a_note_that_names_a_piece_sold_to_somebody_else_is_told() -> None:
    lines = [a_line("t", note="k5t 8ac", occurred_at=NOON), a_line("u", 3500)]
    said = (Ruling(transaction_id="u", verdict="confirmed", item_ids=("a",)),)
    pieces = [a_piece("a", **COAT), a_piece("b", 900)]
    found = told(evidence(pieces, lines, rulings=said))["note-names-sold-piece"]
    assert "40.00 of 2031-05-10 at 12:00" in found
    assert "Navy coat (K5T-8AC)" in found


def test_more_pieces_than_are_searched_for_are_not_called_untagged() -> None:
    said = (Ruling(transaction_id="t", verdict="count", pieces=5),)
    pieces = [a_piece(f"p{i}", 1000) for i in range(8)]
    (answer,) = reconcile(evidence(pieces, [a_line("t", 5000)], rulings=said)).answers
    assert answer.state == "unmatched"
    assert "5 pieces" in answer.reason
    assert "without a tag" not in answer.reason


def test_a_doubtful_double_charge_is_called_doubtful() -> None:
    pieces = [a_piece("a", 8300), *(a_piece(f"p{i}", 1000 + 500 * i) for i in range(20))]
    later = NOON + dt.timedelta(minutes=1)
    lines = [
        a_line("t", 8300, occurred_at=NOON, method="card"),
        a_line("u", 8300, occurred_at=later, method="card"),
    ]
    result = reconcile(evidence(pieces, lines))
    (found,) = [f for f in result.findings if f.code == "probably-charged-twice"]
    assert ("probably" in found.sentence) is (found.probability >= 0.5)
    assert "give 83.00 back" in found.sentence


def test_a_double_sale_and_a_second_ring_up_name_the_piece() -> None:
    sold = (SoldElsewhere(day=DAY),)
    rung = tuple(
        RingUp(ring_up_id=r, item_ids=("a",), total_minor=4000, occurred_on=DAY) for r in "rs"
    )
    found = told(evidence([a_piece("a", sold_elsewhere=sold, **COAT)], [], ring_ups=rung))
    assert "Navy coat (K5T-8AC)" in found["rung-up-twice"]
    assert "Navy coat (K5T-8AC) was probably sold here" in found["probably-sold-twice"]


def test_a_second_claim_names_payment_and_piece() -> None:
    said = tuple(Ruling(transaction_id=t, verdict="confirmed", item_ids=("a",)) for t in ("t", "u"))
    found = told(evidence([a_piece("a", **COAT)], [a_line("t"), a_line("u")], rulings=said))
    sentence = found["confirmed-beyond-quantity"]
    assert sentence.startswith("40.00 of 2031-05-10: ")
    assert "Navy coat (K5T-8AC) is spoken for already" in sentence


def test_a_count_a_look_and_a_stub_that_disagree_are_told() -> None:
    looked = (PieceRuling(item_id="a", still_here=1),)
    stubs = (Stub(code="K5T8AC", day=DAY),)
    given = evidence([a_piece("a", counted_home=0, **COAT)], [], stubs=stubs, piece_rulings=looked)
    found = told(given)
    assert found["count-and-look-disagree"] == (
        "Of Navy coat (K5T-8AC) 0 came home by the count, and somebody saw 1 still there."
    )
    assert "Navy coat (K5T-8AC)" in found["stub-and-look-disagree"]


@pytest.mark.parametrize(("home", "wrong"), [(2, False), (3, True)])
def test_a_sale_and_a_count_that_disagree_are_told(home: int, wrong: bool) -> None:
    said = (Ruling(transaction_id="t", verdict="confirmed", item_ids=("a",)),)
    pieces = [a_piece("a", quantity=3, counted_home=home, **COAT)]
    found = told(evidence(pieces, [a_line("t")], rulings=said))
    assert ("confirmed-but-counted-home" in found) is wrong


@pytest.mark.parametrize("related", ["u", None])
def test_a_second_charge_that_was_given_back_is_no_money_to_give_back(related: str | None) -> None:
    pieces = [a_piece("a", 8300), *(a_piece(f"p{i}", 1000 + 500 * i) for i in range(20))]
    lines = [
        a_line("t", 8300, occurred_at=NOON, method="card"),
        a_line("u", 8300, occurred_at=NOON + dt.timedelta(minutes=1), method="card"),
    ]
    assert "probably-charged-twice" in told(evidence(pieces, lines))
    back = a_line("r", -8300, kind="refund", related_id=related, method="card")
    assert "probably-charged-twice" not in told(evidence(pieces, [*lines, back]))


def test_a_match_of_a_piece_that_was_counted_home_is_told() -> None:
    pieces = [a_piece("a", 8300, counted_home=1, **COAT)]
    pieces += [a_piece(f"p{i}", 1000 + 500 * i, counted_home=1) for i in range(12)]
    given = evidence(pieces, [a_line("t", 8300, note="K5T-8AC")])
    (answer,) = reconcile(given).answers
    found = told(given)
    assert ("matched-but-counted-home" in found) is (answer.state == "matched")
    assert answer.state == "matched"
    assert "Navy coat (K5T-8AC)" in found["matched-but-counted-home"]
