"""What an event taught, taken out and put together again."""

from __future__ import annotations

import pytest

from stallkeep.domain.matching import Habits
from stallkeep.domain.matching.habits import gains_of, taught


def test_what_an_event_taught_comes_back_out() -> None:
    before = Habits(learned={"one/exact": 10.0, "one/percent_10": 2.0}, events=3)
    gains = {"one/exact": 4.0, "kind/one": 7.5}
    after = taught(before, gains)
    assert gains_of(before, after) == pytest.approx(gains)


def test_gains_are_never_below_nothing() -> None:
    before = Habits(learned={"one/exact": 10.0}, events=1)
    assert gains_of(before, Habits(learned={"one/exact": 3.0}, events=2)) == {}
