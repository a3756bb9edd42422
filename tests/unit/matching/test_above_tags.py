"""Payments a percentage above their tags: found by themselves, and told of."""

from __future__ import annotations

import pytest
from tests.unit.matching.worlds_small import a_line, a_piece, evidence

from stallkeep.domain.matching import Finding, Reconciliation, reconcile
from stallkeep.domain.matching.modes import ABOVE

TAGS = [1295 + 100 * i for i in range(40)]
FEWEST_TOLD = 3


def sold_at(percent: int, lines: int = 20) -> Reconciliation:
    """Forty pieces at 12.95, 13.95, …, every other paid with so many per cent on top."""
    pieces = [a_piece(f"p{i}", tag) for i, tag in enumerate(TAGS)]
    paid = [round(tag * (100 + percent) / 100) for tag in TAGS[::2][:lines]]
    return reconcile(evidence(pieces, [a_line(f"t{i}", amount) for i, amount in enumerate(paid)]))


def told(result: Reconciliation) -> list[Finding]:
    return [finding for finding in result.findings if finding.code == "paid-above-tags"]


@pytest.mark.parametrize("percent", [ABOVE[0], 8, ABOVE[-1]])
def test_a_percentage_on_every_tag_is_learned_and_told(percent: int) -> None:
    result = sold_at(percent)
    first = [answer.candidates[0] for answer in result.answers]
    right = sum(
        found.item_ids == (f"p{2 * i}",) and found.probability > 0.5
        for i, found in enumerate(first)
    )
    assert right >= 16
    assert f"are {percent} % above the tags" in told(result)[0].sentence


def test_tags_that_are_paid_as_they_stand_are_not_spoken_of() -> None:
    assert told(sold_at(0)) == []


def test_a_single_tip_is_not_spoken_of() -> None:
    assert told(sold_at(10, lines=FEWEST_TOLD - 1)) == []


def test_the_reason_names_the_percentage() -> None:
    said = [weight.sentence for weight in sold_at(7).answers[0].candidates[0].weights]
    assert "paid 7 % more than the tag: a tip, or tax on top" in said
