from __future__ import annotations

import datetime as dt
import math

import pytest
from tests.unit.matching.worlds_small import DAY, a_line, a_piece, evidence

from stallkeep.domain.matching import (
    Evidence,
    LineAnswer,
    PieceRuling,
    Reconciliation,
    RingUp,
    Ruling,
    SoldElsewhere,
    Stub,
    questions,
    reconcile,
)
from stallkeep.domain.matching.payouts import BankLine, PaidIn, Payout, match_payouts
from stallkeep.domain.matching.questions import entropy

CODES = ["K5T8AC", "7M3TQ2", "4H9XW1", "9C2RF7", "3A6KT5", "8Y4NM2"]


def at(hour: int, minute: int = 0) -> dt.datetime:
    return dt.datetime.combine(DAY, dt.time(hour, minute), tzinfo=dt.UTC)


def answer_to(result: Reconciliation, transaction_id: str) -> LineAnswer:
    return next(a for a in result.answers if a.transaction_id == transaction_id)


def six_alike() -> list[str]:
    return [f"p{i}" for i in range(6)]


def test_stubs_in_order_tell_pieces_of_one_price_apart() -> None:
    pieces = [a_piece(i, 4000, tag_code=c) for i, c in zip(six_alike(), CODES, strict=True)]
    lines = [a_line(f"t{k}", 4000, occurred_at=at(10 + k)) for k in range(4)]
    order = [3, 0, 5, 1]
    stubs = tuple(Stub(code=CODES[i], day=DAY, position=k) for k, i in enumerate(order))
    result = reconcile(evidence(pieces, lines, stubs=stubs))
    best = [answer_to(result, f"t{k}").candidates[0].item_ids for k in range(4)]
    assert best == [(f"p{i}",) for i in order]


def test_without_order_the_same_stubs_leave_a_group() -> None:
    pieces = [a_piece(i, 4000, tag_code=c) for i, c in zip(six_alike(), CODES, strict=True)]
    lines = [a_line(f"t{k}", 4000, occurred_at=at(10 + k)) for k in range(4)]
    stubs = tuple(Stub(code=CODES[i], day=DAY) for i in (3, 0, 5, 1))
    result = reconcile(evidence(pieces, lines, stubs=stubs))
    assert all(a.candidates[0].probability < 0.5 for a in result.answers)


def test_the_count_moves_probability_to_what_is_missing() -> None:
    pieces = [a_piece(i, 4000, counted_home=int(i != "p2")) for i in six_alike()]
    best = reconcile(evidence(pieces, [a_line("t")])).answers[0].candidates[0]
    assert best.item_ids == ("p2",)
    assert best.probability > 0.8


def test_a_ring_up_points_to_its_pieces() -> None:
    pieces = [a_piece(i, 4000) for i in six_alike()]
    rung = RingUp(
        ring_up_id="r", item_ids=("p4",), total_minor=4000, occurred_on=DAY, occurred_at=at(11)
    )
    lines = [a_line("t", occurred_at=at(11, 2)), a_line("u", occurred_at=at(15))]
    result = reconcile(evidence(pieces, lines, ring_ups=(rung,)))
    assert answer_to(result, "t").candidates[0].item_ids == ("p4",)
    assert answer_to(result, "u").candidates[0].item_ids != ("p4",)


def test_a_refund_finds_the_payment_it_names() -> None:
    lines = [a_line("t"), a_line("r", -4000, kind="refund", related_id="t")]
    result = reconcile(evidence([a_piece("a")], lines))
    refund = answer_to(result, "r")
    assert (refund.state, refund.related_id, refund.item_ids) == ("matched", "t", ())
    assert any(f.code == "refunded-piece-back" for f in result.findings)


def test_a_declined_try_takes_no_piece() -> None:
    result = reconcile(evidence([a_piece("a")], [a_line("t", completed=False)]))
    assert result.answers[0].state == "unmatched"
    assert result.pieces[0].sold == 0


def test_two_card_charges_minutes_apart_are_named_as_perhaps_one() -> None:
    pieces = [a_piece("a", 8300), *(a_piece(f"p{i}", 1000 + 500 * i) for i in range(20))]
    lines = [a_line("t", 8300, occurred_at=at(11), method="card"),
             a_line("u", 8300, occurred_at=at(11, 1), method="card")]  # fmt: skip
    result = reconcile(evidence(pieces, lines))
    assert any(f.code == "probably-charged-twice" for f in result.findings)


def test_a_code_of_a_piece_sold_online_is_shown_as_a_double_sale() -> None:
    sold = (SoldElsewhere(day=DAY),)
    pieces = [a_piece("a", 4000, tag_code="K5T8AC", sold_elsewhere=sold)]
    pieces += [a_piece(f"p{i}", 1000 + 700 * i) for i in range(30)]
    ruling = Ruling(transaction_id="t", verdict="confirmed", item_ids=("a",))
    result = reconcile(evidence(pieces, [a_line("t")], rulings=(ruling,)))
    assert result.pieces[0].double_sale == 1.0
    assert any(f.code == "probably-sold-twice" for f in result.findings)


def test_contradictions_are_findings_and_stop_nothing() -> None:
    pieces = [a_piece("a", tag_code="K5T8AC", counted_home=1)]
    stubs = (Stub(code="K5T8AC", day=DAY), Stub(code="ZZZZZZ", day=DAY))
    lines = [a_line("t", 0), a_line("u", occurred_on=DAY + dt.timedelta(days=9))]
    rulings = (
        Ruling(transaction_id="u", verdict="confirmed", item_ids=("a",)),
        Ruling(transaction_id="u", verdict="set_aside"),
        Ruling(transaction_id="gone", verdict="set_aside"),
    )
    looked = (PieceRuling(item_id="a", still_here=1),)
    result = reconcile(
        evidence(pieces, lines, stubs=stubs, rulings=rulings, piece_rulings=looked, days=(DAY,))
    )
    codes = {finding.code for finding in result.findings}
    assert {
        "amount-not-positive",
        "day-outside-event",
        "rulings-contradict",
        "answer-about-unknown-line",
        "stub-of-unknown-piece",
        "stub-and-count-disagree",
    } <= codes
    assert answer_to(result, "u").state == "conflict"


def test_a_look_settles_what_it_was_asked_for() -> None:
    pieces = [a_piece("a"), a_piece("b"), *(a_piece(f"p{i}", 900 + 700 * i) for i in range(12))]
    before = evidence(pieces, [a_line("t")])
    asked = questions(before, reconcile(before))
    assert asked[0].item_ids == ("a", "b")
    assert asked[1].item_id in {"a", "b"}
    after = reconcile(evidence(pieces, [a_line("t")], piece_rulings=(
        PieceRuling(item_id="a", still_here=1),)))  # fmt: skip
    assert after.answers[0].candidates[0].item_ids == ("b",)
    assert after.answers[0].candidates[0].probability > 0.6


def test_entropy_of_a_fair_coin_is_one_bit() -> None:
    assert entropy(0.5, 0.5) == pytest.approx(1.0)
    assert entropy(1.0, 0.0) == 0.0


def test_weights_sum_to_the_stated_odds_against_the_next_best() -> None:
    pieces = [a_piece(i, 4000 + 500 * k, title="wool hat" if k else "blue jug")
              for k, i in enumerate(six_alike())]  # fmt: skip
    answer = reconcile(evidence(pieces, [a_line("t", note="jug")])).answers[0]
    first, second = answer.candidates[:2]
    odds = math.log2(first.probability / second.probability)
    assert sum(w.bits for w in first.weights) == pytest.approx(odds)


def test_payouts_are_found_by_name_and_by_sum_to_the_cent() -> None:
    paid = [
        PaidIn(transaction_id="a", amount_minor=1000, fee_minor=30, occurred_on=DAY, payout_id="P"),
        PaidIn(transaction_id="b", amount_minor=2000, fee_minor=60, occurred_on=DAY),
        PaidIn(transaction_id="c", amount_minor=-500, fee_minor=0, occurred_on=DAY),
        PaidIn(transaction_id="d", amount_minor=777, fee_minor=7, occurred_on=DAY),
    ]
    later = DAY + dt.timedelta(days=2)
    payouts = [
        Payout(payout_id="P", amount_minor=969, occurred_on=later),
        Payout(payout_id="Q", amount_minor=1440, occurred_on=later),
    ]
    bank = [BankLine(transaction_id="k", amount_minor=1440, occurred_on=later)]
    answers, uncovered, other = match_payouts(payouts, paid, bank)
    assert (answers[0].covers, answers[0].off_minor, answers[0].named) == (("a",), -1, True)
    assert (answers[1].covers, answers[1].off_minor, answers[1].bank_id) == (("b", "c"), 0, "k")
    assert (uncovered, other) == (("d",), ())


def test_channel_sales_match_by_title_and_price() -> None:
    pieces = [a_piece(f"p{i}", 1000 + 100 * i, title=f"linen shirt {i}") for i in range(50)]
    lines = [a_line("t", 1700, kind="sale", title="Linen Shirt, 7"),
             a_line("u", 1800, kind="sale", title="brass lamp")]  # fmt: skip
    result = reconcile(Evidence(scope="channel", pieces=tuple(pieces), lines=tuple(lines)))
    assert (result.answers[0].state, result.answers[0].item_ids) == ("matched", ("p7",))
    assert result.answers[1].state == "unmatched"


def test_two_channel_sales_of_one_piece_are_not_both_matched() -> None:
    pieces = [a_piece("a", 1700, title="linen shirt")]
    lines = [a_line(t, 1700, kind="sale", title="linen shirt") for t in "tu"]
    result = reconcile(Evidence(scope="channel", pieces=tuple(pieces), lines=tuple(lines)))
    assert all(a.state != "matched" for a in result.answers)
