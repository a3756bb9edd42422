"""Why a piece goes with a payment's day and hour, in the seller's words."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import pytest
from tests.unit.matching.worlds_small import DAY, a_line, a_piece, evidence

from stallkeep.domain.matching import LineAnswer, RailPiece, Stub, reconcile

NOON = dt.datetime.combine(DAY, dt.time(12), tzinfo=dt.UTC)
NEXT = DAY + dt.timedelta(days=1)
CODES = ["K5T8AC", "7M3TQ2", "4H9XW1"]


def answered(pieces: list[RailPiece], amount_minor: int = 4000, **more: Any) -> LineAnswer:  # noqa: ANN401
    others = [a_piece(f"o{n}", 700 + 910 * n, tag_code=f"O{n}") for n in range(8)]
    line = a_line("t", amount_minor, occurred_at=NOON)
    (answer,) = reconcile(evidence([*pieces, *others], [line], **more)).answers
    return answer


def told(answer: LineAnswer, items: tuple[str, ...]) -> list[str]:
    (candidate,) = (c for c in answer.candidates if c.item_ids == items)
    return [weight.sentence for weight in candidate.weights]


def two() -> list[RailPiece]:
    return [a_piece(i, 4000, tag_code=c) for i, c in zip("ab", CODES, strict=False)]


def test_the_price_on_the_stub_is_named_as_the_reason() -> None:
    stubs = (
        Stub(code=CODES[0], day=DAY, price_minor=3700),
        Stub(code=CODES[1], day=DAY, price_minor=3500),
    )
    answer = answered(two(), 3500, stubs=stubs)
    assert answer.candidates[0].item_ids == ("b",)
    assert "just this is written on its stub" in told(answer, ("b",))
    assert "another price is written on its stub" in told(answer, ("a",))


def test_a_stub_of_another_day_and_a_stub_that_was_not_kept_are_named() -> None:
    pieces = [*two(), a_piece("c", 4000, tag_code=CODES[2])]
    stubs = (Stub(code=CODES[0], day=DAY), Stub(code=CODES[1], day=NEXT))
    answer = answered(pieces, stubs=stubs)
    assert any("its stub is of another day" in s for s in told(answer, ("b",)))
    assert any("no stub of it was kept that day" in s for s in told(answer, ("c",)))


def test_a_piece_put_out_later_is_named_so() -> None:
    late = a_piece("b", 4000, tag_code=CODES[1], put_out_at=NOON + dt.timedelta(hours=2))
    answer = answered([two()[0], late])
    assert "it was put out after this payment" in told(answer, ("b",))


def test_evidence_that_the_other_has_more_of_is_told_of_the_other() -> None:
    pieces = [a_piece("a", 3300, tag_code=CODES[0]), a_piece("b", 1200, tag_code=CODES[1]),
              a_piece("c", 1800, tag_code=CODES[2])]  # fmt: skip
    stubs = tuple(Stub(code=code, day=DAY) for code in CODES)
    answer = answered(pieces, 3000, stubs=stubs)
    both = told(answer, ("b", "c"))
    assert any("their stubs were kept" in sentence for sentence in both)
    for candidate in answer.candidates:
        for weight in candidate.weights:
            assert weight.bits > 0 or weight.sentence != "its stub was kept"


def test_where_stubs_have_an_order_the_rest_names_it() -> None:
    stubs = tuple(Stub(code=code, day=DAY, position=n) for n, code in enumerate(CODES[:2]))
    answer = answered(two(), stubs=stubs)
    assert told(answer, answer.candidates[0].item_ids)[-1].startswith("how it fits with the order")


def test_bits_sum_to_the_odds_all_the_same() -> None:
    stubs = (Stub(code=CODES[0], day=DAY, price_minor=3500), Stub(code=CODES[1], day=NEXT))
    first, second = answered(two(), 3500, stubs=stubs).candidates[:2]
    odds = math.log2(first.probability / second.probability)
    assert sum(weight.bits for weight in first.weights) == pytest.approx(odds)
