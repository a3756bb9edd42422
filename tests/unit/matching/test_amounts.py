"""How likely an amount is, given the tags: every way to a price is a distribution over amounts."""

from __future__ import annotations

import numpy as np
import pytest

from stallkeep.domain.matching.amounts import MODE_INDEX, mode_matrix
from stallkeep.domain.matching.modes import MODES, Floats

TAGS = np.array([90, 490, 500, 625, 1999, 2400])
HIGHEST = 6250
NAMED = ("exact", "down_5_next", "percent_10", "off_2", "tip")


def likely(tag: int, amount: int, mode: str) -> float:
    return float(mode_matrix(np.array([tag]), amount, 100)[0, MODE_INDEX[mode]])


@pytest.fixture(scope="module")
def summed() -> Floats:
    """Sums over all amounts, by tag and way."""
    each = [mode_matrix(TAGS, amount, 100) for amount in range(1, HIGHEST + 1)]
    whole: Floats = np.sum(each, axis=0)
    return whole


@pytest.mark.parametrize("mode", MODES)
def test_a_way_to_a_price_gives_all_amounts_together_at_most_one(mode: str, summed: Floats) -> None:
    assert summed[:, MODE_INDEX[mode]].max() <= 1 + 1e-9


@pytest.mark.parametrize("mode", NAMED)
def test_a_tag_that_a_way_can_lower_gives_all_of_it_away(mode: str, summed: Floats) -> None:
    assert summed[-1, MODE_INDEX[mode]] == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize(("tag", "paid"), [(2990, 3000), (2990, 3100), (2990, 3090), (2990, 3490)])
def test_what_is_paid_beyond_the_tag_comes_to_a_round_price_or_is_a_round_sum(
    tag: int, paid: int
) -> None:
    assert likely(tag, paid, "tip") > 0.01


@pytest.mark.parametrize(("tag", "paid"), [(2990, 2990), (2990, 2900), (2990, 3015), (400, 600)])
def test_what_is_no_more_than_the_tag_or_too_much_is_no_tip(tag: int, paid: int) -> None:
    assert likely(tag, paid, "tip") == 0.0


ONE_SLIP = {
    "a wrong digit": (4400, 4500),
    "two swapped": (4500, 5400),
    "one dropped": (4500, 450),
    "one doubled": (450, 4550),
    "a zero too many": (4500, 45000),
    "the point shifted up": (45, 4500),
    "the point shifted down": (4500, 45),
}


@pytest.mark.parametrize(("tag", "paid"), ONE_SLIP.values(), ids=ONE_SLIP.keys())
def test_one_slip_of_the_finger(tag: int, paid: int) -> None:
    assert likely(tag, paid, "mis_keyed") == 1 / (12 * len(str(tag)))


@pytest.mark.parametrize("paid", [4500, 45900, 4490, 9900, 14500])
def test_none_or_more_than_one_is_no_slip(paid: int) -> None:
    assert likely(4500, paid, "mis_keyed") == 0.0
