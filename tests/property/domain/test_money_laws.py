"""Laws of money that hold for any amount."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from stallkeep.domain.currencies import MINOR_UNITS
from stallkeep.domain.errors import MoneyTextError
from stallkeep.domain.money import MAXIMUM_MINOR, apportion, from_text, half_up, to_text

currencies = st.sampled_from(sorted(MINOR_UNITS))
amounts = st.integers(-MAXIMUM_MINOR, MAXIMUM_MINOR)
weights = st.lists(st.integers(0, 10**9), min_size=1, max_size=40).filter(any)


@given(amounts, currencies)
def test_text_and_back_is_the_same_amount(minor: int, currency: str) -> None:
    assert from_text(to_text(minor, currency), currency) == minor


@given(st.text(max_size=20), currencies)
def test_what_is_read_is_written_the_same_or_refused(text: str, currency: str) -> None:
    try:
        minor = from_text(text, currency)
    except MoneyTextError:
        return
    assert to_text(minor, currency) == text


@given(amounts, weights)
def test_parts_sum_to_the_whole_each_within_one_unit(total: int, shares: list[int]) -> None:
    parts = apportion(total, shares)
    assert sum(parts) == total
    for part, share in zip(parts, shares, strict=True):
        assert abs(part - Fraction(total * share, sum(shares))) < 1
        assert share or part == 0


@given(amounts, st.integers(1, 10**9))
def test_rounding_stays_within_half_a_unit_and_mirrors(numerator: int, denominator: int) -> None:
    rounded = half_up(numerator, denominator)
    assert abs(rounded - Fraction(numerator, denominator)) <= Fraction(1, 2)
    assert half_up(-numerator, denominator) == -rounded
