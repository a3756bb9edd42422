"""Laws of fees that hold for any schedule."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.property.domain.strategies import fee_schedules, patient

from stallkeep.domain.fees import FeeSchedule, lowest_price, take_home


@patient
@given(fee_schedules, st.integers(0, 10**7))
def test_price_and_lines_sum_to_the_take_home(schedule: FeeSchedule, price: int) -> None:
    left = take_home(schedule, price)
    assert price + sum(line.amount_minor for line in left.lines) == left.take_home_minor
    fees = [line.amount_minor for line in left.lines if line.kind != "postage"]
    assert left.fees_minor == -sum(fees)
    assert all(amount <= 0 for amount in fees)


@settings(patient, max_examples=60)
@given(fee_schedules, st.integers(-1_000, 9_000), st.sampled_from((0, 0, 777, 15_000)))
def test_the_inverse_is_the_first_price_of_a_plain_search(
    schedule: FeeSchedule, wanted: int, searched: int
) -> None:
    found = lowest_price(schedule, wanted, searched)
    while take_home(schedule, searched).take_home_minor < wanted:
        searched += 1
    assert found == searched


@patient
@given(fee_schedules, st.integers(0, 10**9))
def test_the_inverse_of_a_take_home_is_never_above_its_price(
    schedule: FeeSchedule, price: int
) -> None:
    wanted = take_home(schedule, price).take_home_minor
    found = lowest_price(schedule, wanted)
    assert found <= price
    assert take_home(schedule, found).take_home_minor >= wanted
