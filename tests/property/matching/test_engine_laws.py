from __future__ import annotations

import datetime as dt
from collections import Counter

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st

from stallkeep.domain.matching import Evidence, MoneyLine, RailPiece, Stub, reconcile

PRICES = st.sampled_from([500, 1000, 1200, 1500, 2000, 4500])
NOTES = st.sampled_from([None, "", "K5T8AC", "7M3TQ2 ta", "wool", "2 mugs"])
DAY = dt.date(2031, 5, 10)
MORNING = dt.datetime(2031, 5, 10, 9, tzinfo=dt.UTC)


@st.composite
def some_evidence(draw: st.DrawFn) -> Evidence:
    codes = ["K5T8AC", "7M3TQ2", None]
    pieces = tuple(
        RailPiece(
            item_id=f"p{i}",
            price_minor=draw(st.one_of(PRICES, st.sampled_from([None, 0]))),
            quantity=draw(st.integers(1, 2)),
            tag_code=codes[min(i, 2)],
            title=draw(st.sampled_from(["wool coat", "blue mug", ""])),
            counted_home=draw(st.sampled_from([None, 0, 1])),
        )
        for i in range(draw(st.integers(0, 6)))
    )
    timed = draw(st.booleans())
    lines = tuple(
        MoneyLine(
            transaction_id=f"t{i}",
            amount_minor=draw(st.one_of(PRICES, st.integers(0, 9000))),
            occurred_on=DAY,
            occurred_at=MORNING + dt.timedelta(minutes=i) if timed else None,
            note=draw(NOTES),
        )
        for i in range(draw(st.integers(0, 5)))
    )
    ordered = draw(st.booleans())
    stubs = tuple(
        Stub(
            code=draw(st.sampled_from(["K5T8AC", "7M3TQ2", "M4R7HE"])),
            day=DAY,
            position=i if ordered else None,
            price_minor=draw(st.one_of(st.none(), PRICES)),
        )
        for i in range(draw(st.integers(0, 4)))
    )
    return Evidence(pieces=pieces, lines=lines, stubs=stubs)


@settings(max_examples=40, deadline=None)
@given(some_evidence())
def test_every_line_is_answered_once_and_in_order(evidence: Evidence) -> None:
    answers = reconcile(evidence).answers
    assert [a.transaction_id for a in answers] == [line.transaction_id for line in evidence.lines]


@settings(max_examples=40, deadline=None)
@given(some_evidence())
def test_no_piece_is_matched_beyond_its_quantity(evidence: Evidence) -> None:
    used = Counter(item for a in reconcile(evidence).answers for item in a.item_ids)
    assert all(used[p.item_id] <= p.quantity for p in evidence.pieces)


@settings(max_examples=40, deadline=None)
@given(some_evidence())
def test_prices_of_a_match_sum_to_its_amount(evidence: Evidence) -> None:
    for line, answer in zip(evidence.lines, reconcile(evidence).answers, strict=True):
        for candidate in answer.candidates:
            if candidate.item_ids:
                assert sum(candidate.prices_minor) == line.amount_minor
                assert len(candidate.prices_minor) == len(candidate.item_ids)


@settings(max_examples=25, deadline=None)
@given(some_evidence(), st.randoms())
def test_input_order_changes_nothing(evidence: Evidence, random: object) -> None:
    pieces, lines = list(evidence.pieces), list(evidence.lines)
    random.shuffle(pieces)  # type: ignore[attr-defined]
    random.shuffle(lines)  # type: ignore[attr-defined]
    there = reconcile(evidence)
    back = reconcile(msgspec.structs.replace(evidence, pieces=tuple(pieces), lines=tuple(lines)))
    assert {a.transaction_id: a for a in there.answers} == {
        a.transaction_id: a for a in back.answers
    }


@settings(max_examples=25, deadline=None)
@given(some_evidence())
def test_probabilities_of_one_line_never_exceed_one(evidence: Evidence) -> None:
    for answer in reconcile(evidence).answers:
        assert sum(c.probability for c in answer.candidates) <= 1 + 1e-9
