from __future__ import annotations

import pytest
from tests.unit.matching.worlds_small import a_line, a_piece, evidence

from stallkeep.domain.matching import Ruling, reconcile


def test_a_code_in_the_note_is_a_match() -> None:
    pieces = [a_piece("a", tag_code="K5T8AC"), a_piece("b", tag_code="7M3TQ2")]
    pieces += [a_piece(f"p{i}", 900 + 300 * i) for i in range(40)]
    answer = reconcile(evidence(pieces, [a_line("t", note="card k5t-8ac ty")])).answers[0]
    assert (answer.state, answer.item_ids) == ("matched", ("a",))
    assert answer.prices_minor == (4000,)


def test_a_listing_reference_is_certain() -> None:
    pieces = [a_piece("a", references=("L-1",)), a_piece("b", references=("L-2",))]
    line = a_line("t", kind="sale", reference="L-2", amount_minor=3500)
    answer = reconcile(evidence(pieces, [line], scope="channel")).answers[0]
    assert (answer.state, answer.item_ids, answer.certain) == ("matched", ("b",), True)


def test_three_pieces_at_one_price_are_proposed_alike() -> None:
    pieces = [a_piece("a"), a_piece("b"), a_piece("c"), a_piece("d", 5500)]
    answer = reconcile(evidence(pieces, [a_line("t")])).answers[0]
    assert answer.state == "proposed"
    assert answer.item_ids == ()
    shares = [c.probability for c in answer.candidates if c.item_ids in {("a",), ("b",), ("c",)}]
    assert len(shares) == 3
    assert max(shares) - min(shares) < 0.02
    assert 0.25 < shares[0] <= 1 / 3


def test_an_amount_nothing_explains_is_unmatched() -> None:
    answer = reconcile(evidence([a_piece("a", 1500)], [a_line("t", 99900)])).answers[0]
    assert answer.state == "unmatched"
    assert answer.reason


def test_a_confirmed_ruling_is_kept_and_uses_the_piece_up() -> None:
    pieces = [a_piece("a", tag_code="K5T8AC")]
    lines = [a_line("t", 1000), a_line("u", 4000, note="K5T8AC")]
    ruling = Ruling(transaction_id="t", verdict="confirmed", item_ids=("a",))
    first, second = reconcile(evidence(pieces, lines, rulings=(ruling,))).answers
    assert (first.state, first.item_ids, first.certain) == ("matched", ("a",), True)
    assert second.state != "matched"


def test_a_refused_piece_is_not_offered_again() -> None:
    ruling = Ruling(transaction_id="t", verdict="refused", item_ids=("a",))
    answer = reconcile(
        evidence([a_piece("a"), a_piece("b")], [a_line("t")], rulings=(ruling,))
    ).answers[0]
    assert ("a",) not in {candidate.item_ids for candidate in answer.candidates}


def test_set_aside_lines_stay_so() -> None:
    ruling = Ruling(transaction_id="t", verdict="set_aside")
    answer = reconcile(evidence([a_piece("a")], [a_line("t")], rulings=(ruling,))).answers[0]
    assert answer.state == "set_aside"


def test_doubled_ids_are_refused() -> None:
    with pytest.raises(ValueError, match="twice"):
        reconcile(evidence([a_piece("a"), a_piece("a")], []))
