"""One cost of several events."""

from __future__ import annotations

import pytest

from stallkeep.domain.cost_split import PartOf, split_cost, weights_of
from stallkeep.domain.errors import CostSplitError


def test_parts_follow_largest_remainder() -> None:
    # 800 over 3: moneyphp/money, doc/features/allocation.rst. The second is derived.
    assert [amount for amount, _ in split_cost(800, None, [1, 1, 1])] == [267, 267, 266]
    assert split_cost(100_00, 16_67, [2, 1]) == [(66_67, 11_11), (33_33, 5_56)]


def test_money_given_back_is_shared_too() -> None:
    assert [amount for amount, _ in split_cost(-100, None, [1, 1, 1])] == [-33, -33, -34]


def test_weights_are_equal_days_or_the_shares_given() -> None:
    assert weights_of("equal", [3, 1], [None, None]) == (1, 1)
    assert weights_of("days", [3, 1], [None, None]) == (3, 1)
    assert weights_of("shares", [3, 1], [5, 2]) == (5, 2)


def test_shares_are_given_for_all_or_for_none() -> None:
    with pytest.raises(CostSplitError, match="needs its share"):
        weights_of("shares", [1, 1], [5, None])
    with pytest.raises(CostSplitError, match="not days"):
        weights_of("days", [1, 1], [5, None])


def test_a_part_says_what_it_is_part_of() -> None:
    part = PartOf(whole_minor=84_20, split_by="days", share=2, shares=3, events=2)
    assert part.words("EUR") == "part of 84.20 for 2 events, by days, 2 of 3"
    part = PartOf(whole_minor=84_20, split_by="equal", share=1, shares=2, events=2)
    assert part.words("EUR") == "part of 84.20 for 2 events, in equal parts"
