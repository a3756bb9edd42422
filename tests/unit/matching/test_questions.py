from __future__ import annotations

import pytest
from tests.unit.matching.worlds_small import DAY, a_line, a_piece, evidence

from stallkeep.domain.matching import (
    Candidate,
    Evidence,
    LineAnswer,
    PieceAnswer,
    PieceRuling,
    Question,
    Reconciliation,
    habit_note,
    questions,
    reconcile,
)
from stallkeep.domain.matching.question_worth import Worth

FORTIES = tuple(f"f{i}" for i in range(3))


def a_day() -> Evidence:
    """Three pieces at 40.00 of which one was sold, a dozen others, and one line."""
    others = [a_piece(f"p{i}", 900 + 700 * i, tag_code=f"P{i}") for i in range(12)]
    forties = [a_piece(item, 4000, tag_code=item.upper()) for item in FORTIES]
    return evidence([*forties, *others], [a_line("t")], days=(DAY,))


def test_pieces_of_one_price_are_asked_about_in_one_look() -> None:
    day = a_day()
    best = questions(day, reconcile(day))[0]
    assert (best.kind, best.item_ids) == ("which_here", FORTIES)
    assert best.sentence == "Which of these at 40.00 are still there: F0, F1, F2?"


def test_a_look_at_all_tells_more_than_one_at_each_and_less_than_their_sum() -> None:
    day = a_day()
    asked = questions(day, reconcile(day), most=50)
    together = next(q for q in asked if q.item_ids == FORTIES)
    single = [q.bits for q in asked if q.item_id in FORTIES]
    assert max(single) <= together.bits < sum(single)


def test_the_answer_to_the_look_settles_the_line() -> None:
    day = a_day()
    looked = tuple(PieceRuling(item_id=i, still_here=int(i != "f1")) for i in FORTIES)
    best = reconcile(evidence(list(day.pieces), list(day.lines), piece_rulings=looked))
    assert best.answers[0].candidates[0].item_ids == ("f1",)
    asked = questions(
        evidence(list(day.pieces), list(day.lines), piece_rulings=looked), best, most=50
    )
    assert not {i for q in asked for i in (*q.item_ids, q.item_id)} & set(FORTIES)


def test_one_look_is_for_eight_pieces_at_most() -> None:
    pieces = [a_piece(f"f{i:02}", 4000) for i in range(20)]
    day = evidence(pieces, [a_line("t")])
    asked = questions(day, reconcile(day), most=50)
    assert max(len(q.item_ids) for q in asked) == 8


# Two candidates of probability .6 and .4 for 100.00, .6 the chance that the first is gone. "Gone"
# leaves the first alone, "here" the second: .6 * 1 + .4 * 1 - .6**4 of the amount.
def test_the_worth_of_a_look_is_what_its_answers_settle_in_the_mean() -> None:
    given, done = two_candidates(0.6, 0.4)
    look = Question(kind="still_here", sentence="", bits=1.0, item_id="a", probability=0.4)
    assert Worth(given, done).of(look) == pytest.approx(10000 * (1.0 - 0.6**4))


# One piece for certain, only which one is not known: a number tells nothing.
def test_a_number_that_is_known_settles_nothing() -> None:
    given, done = two_candidates(0.6, 0.4)
    number = Question(kind="how_many", sentence="", bits=0.0, transaction_id="t", probability=1.0)
    assert Worth(given, done).of(number) == pytest.approx(0.0)


def test_a_look_at_what_no_line_may_have_been_for_settles_nothing() -> None:
    given, done = two_candidates(0.6, 0.4)
    look = Question(kind="still_here", sentence="", bits=1.0, item_id="z", probability=0.5)
    assert Worth(given, done).of(look) == 0.0


def two_candidates(first: float, second: float) -> tuple[Evidence, Reconciliation]:
    given = evidence([a_piece("a", 10000), a_piece("b", 10000)], [a_line("t", 10000)])
    candidates = tuple(
        Candidate(explanation="pieces", item_ids=(item,), probability=p)
        for item, p in (("a", first), ("b", second))
    )
    answer = LineAnswer(
        transaction_id="t", state="proposed", candidates=candidates, sizes=(0.0, 1.0, 0.0, 0.0, 0.0)
    )
    pieces = tuple(PieceAnswer(item_id=i, sold=p, gone=p) for i, p in (("a", first), ("b", second)))
    done = answered_so(reconcile(given), answer, pieces)
    return given, done


def answered_so(
    done: Reconciliation, answer: LineAnswer, pieces: tuple[PieceAnswer, ...]
) -> Reconciliation:
    return Reconciliation(
        answers=(answer,),
        findings=(),
        pieces=pieces,
        habits=done.habits,
        report=done.report,
    )


def test_the_habit_note_is_the_same_for_the_same_event_in_any_order() -> None:
    day = a_day()
    turned = evidence(list(reversed(day.pieces)), list(day.lines), days=(DAY,))
    assert habit_note(day, reconcile(day)) == habit_note(turned, reconcile(turned))


def test_codes_beside_payments_are_what_an_event_of_equal_prices_lacks() -> None:
    pieces = [a_piece(f"f{i}", 4000, tag_code=code) for i, code in enumerate(CODES)]
    pieces += [a_piece(f"p{i}", 900 + 700 * i) for i in range(30)]
    day = evidence(pieces, [a_line("t"), a_line("u")])
    note = habit_note(day, reconcile(day))
    assert note.habit in {"codes_in_notes", "stubs"}
    assert note.settled_then_minor > note.settled_now_minor


CODES = ("K5T8AC", "7M3TQ2", "4H9XW1", "9C2RF7", "3A6KT5", "8Y4NM2")
