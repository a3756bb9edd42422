"""Refunds find their payments, and the seller is asked what came back."""

from __future__ import annotations

import datetime as dt
from typing import Any

from tests.unit.matching.worlds_small import DAY, a_line, a_piece, evidence

from stallkeep.domain.matching import Evidence, MoneyLine, Question, Ruling, questions, reconcile
from stallkeep.domain.matching.line_answer import Candidate, LineAnswer
from stallkeep.domain.matching.refunds import answer_refunds

NOON = dt.datetime.combine(DAY, dt.time(12), tzinfo=dt.UTC)
COAT: dict[str, Any] = {"tag_code": "K5T8AC", "title": "Navy coat"}


def a_refund(transaction_id: str, amount_minor: int = 4000, **more: Any) -> MoneyLine:  # noqa: ANN401
    return a_line(transaction_id, -amount_minor, kind="refund", **more)


def asked(given: Evidence) -> list[Question]:
    found = questions(given, reconcile(given))
    return [question for question in found if question.kind == "given_back"]


def test_an_amount_alone_makes_no_refund_certain() -> None:
    lines = [a_line("t"), a_refund("r")]
    found, _ = answer_refunds(evidence([], lines), {})
    assert found["r"].state == "proposed"
    assert found["r"].related_id == "t"
    assert found["r"].probability < 0.99


def test_two_parts_given_back_are_both_of_the_payment_they_name() -> None:
    lines = [a_line("t"), a_refund("r", 1000, related_id="t"), a_refund("s", 500, related_id="t")]
    found, findings = answer_refunds(evidence([], lines), {})
    assert [found[r].state for r in "rs"] == ["matched", "matched"]
    assert "refunded-beyond-payment" not in {f.code for f in findings}


def test_more_given_back_than_was_paid_is_told() -> None:
    lines = [a_line("t"), a_refund("r", related_id="t"), a_refund("s", 500, related_id="t")]
    _, findings = answer_refunds(evidence([], lines), {})
    (beyond,) = (f for f in findings if f.code == "refunded-beyond-payment")
    assert beyond.amount_minor == 500


def test_a_second_charge_is_given_back_sooner_than_a_sale() -> None:
    lines = [a_line("t"), a_line("u"), a_refund("r")]
    twice = Candidate(explanation="double_charge", probability=0.6, related_id="t")
    paid = {
        "t": LineAnswer(transaction_id="t", state="proposed"),
        "u": LineAnswer(transaction_id="u", state="proposed", candidates=(twice,)),
    }
    found, _ = answer_refunds(evidence([], lines), paid)
    first, second = found["r"].candidates
    assert (first.related_id, second.related_id) == ("u", "t")
    assert first.probability > 3 * second.probability


def test_it_is_asked_whether_the_piece_came_back_until_it_is_said() -> None:
    sold = Ruling(transaction_id="t", verdict="confirmed", item_ids=("a",))
    lines = [a_line("t", occurred_at=NOON), a_refund("r", related_id="t", occurred_at=NOON)]
    pieces = [a_piece("a", **COAT)]
    (question,) = asked(evidence(pieces, lines, rulings=(sold,)))
    assert question.sentence == (
        "40.00 of 2031-05-10 at 12:00 was given back: did Navy coat (K5T-8AC) come back, too?"
    )
    assert (question.transaction_id, question.related_id) == ("r", "t")
    assert question.item_ids == ("a",)
    said = Ruling(transaction_id="r", verdict="part_of_sale", related_id="t")
    assert asked(evidence(pieces, lines, rulings=(sold, said))) == []
    assert asked(evidence(pieces, lines, rulings=(sold,), returned_of=("t",))) == []


def test_an_open_refund_is_asked_first_for_its_payment() -> None:
    pieces = [a_piece("a", **COAT), a_piece("b")]
    lines = [a_line("t", occurred_at=NOON), a_line("u", occurred_at=NOON), a_refund("r")]
    given = evidence(pieces, lines)
    (question,) = asked(given)
    assert question.sentence.startswith("Which payment did the refund of 40.00")
    assert questions(given, reconcile(given))[0].kind == "given_back"


def test_a_word_about_a_refund_keeps_its_payment_from_other_refunds() -> None:
    said = Ruling(transaction_id="r", verdict="part_of_sale", related_id="t")
    lines = [a_line("t"), a_line("u"), a_refund("r"), a_refund("s")]
    result = reconcile(evidence([a_piece("a"), a_piece("b")], lines, rulings=(said,)))
    answers = {answer.transaction_id: answer for answer in result.answers}
    assert (answers["r"].state, answers["r"].related_id) == ("matched", "t")
    assert answers["s"].related_id == "u"


def test_a_refund_takes_nothing_off_what_its_pieces_brought() -> None:
    rulings = (
        Ruling(transaction_id="t", verdict="confirmed", item_ids=("a",)),
        Ruling(transaction_id="r", verdict="part_of_sale", related_id="t"),
    )
    lines = [a_line("t"), a_refund("r", 1000)]
    result = reconcile(evidence([a_piece("a")], lines, rulings=rulings))
    assert result.answers[0].prices_minor == (4000,)


def test_a_refund_of_no_payments_amount_is_asked_about_too() -> None:
    given = evidence([a_piece("a", **COAT)], [a_line("t"), a_line("u", 1500), a_refund("r", 1000)])
    (question,) = asked(given)
    assert question.sentence.startswith("Which payment did the refund of 10.00")
    assert (question.related_id, question.probability) == (None, 0.0)
    assert question.bits == 2.0  # one of two payments, and whether a piece came back
