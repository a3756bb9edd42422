"""What a body should have said, in words for whoever sends it."""

from __future__ import annotations

import json

import msgspec
import pytest

from stallkeep.api.costs import NewCost
from stallkeep.api.events import NewDay
from stallkeep.api.problems import invalid
from stallkeep.domain.errors import InvalidInputError

COST = {"kind": "food"}
DAY = {"day": "2026-05-09"}


def _said(kind: type[msgspec.Struct], body: object) -> str:
    with pytest.raises(msgspec.ValidationError) as refused:
        msgspec.json.decode(json.dumps(body), type=kind)
    answer = invalid(refused.value, kind)
    assert isinstance(answer, InvalidInputError)
    return answer.detail


@pytest.mark.parametrize(
    ("kind", "body", "words"),
    [
        (NewDay, {**DAY, "pitch_fee": "-5.00"}, "an amount of 0 or more"),
        (NewCost, {**COST, "amount": "5,00"}, "an amount with all its decimals"),
        (NewCost, {**COST, "amount": 5}, 'as text, in quotation marks: "12.50"'),
        (NewCost, {**COST, "amount": 5.5}, 'as text, in quotation marks: "12.50"'),
        (NewCost, {**COST, "note": 5}, "Expected text or null, got a whole number"),
        (NewCost, {**COST, "spent_on": "2026-02-30"}, "a day of the calendar"),
        (NewDay, {**DAY, "opens_at": "10 o'clock"}, "such as 09:30:00"),
    ],
)
def test_a_wrong_value_is_answered_with_what_was_expected(
    kind: type[msgspec.Struct], body: object, words: str
) -> None:
    assert words in _said(kind, body)
