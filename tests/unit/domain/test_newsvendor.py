"""How many to take, against published newsvendor examples."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from stallkeep.domain.newsvendor import critical_fractile, outcome, quantity_for


@pytest.mark.parametrize(
    ("cost", "price", "salvage", "mean", "sd", "fractile", "quantity"),
    [
        # NewsvendorModel.jl manual: index page; Cachon and Terwiesch (its own textbook prints
        # 4184 from a rounded table).
        (5, 7, 0, 50, 20, 2 / 7, 38.68),
        (110, 190, 90, 3192, 1181, 0.80, 4186),
        # SCperf manual, Newsboy: Porteus; Gallego.
        (1, 4, 0, 100, 30, 0.75, 120.23),
        (1, 4, 0, 100, 20, 0.75, 113.49),
    ],
)
def test_the_quantity_is_the_critical_fractile_of_demand(
    *, cost: float, price: float, salvage: float, mean: float, sd: float, fractile: float,
    quantity: float,
) -> None:  # fmt: skip
    found = critical_fractile(price - cost, cost - salvage)
    assert found == pytest.approx(fractile)
    assert stats.norm(mean, sd).ppf(found) == pytest.approx(quantity, abs=0.5)
    # The same from a finely drawn demand, in whole pieces.
    drawn = np.round(stats.norm(mean, sd).ppf((np.arange(100_000) + 0.5) / 100_000)).astype(
        np.int64
    )
    assert abs(quantity_for(drawn, found) - quantity) <= 1


def test_a_lost_customer_counts_with_the_margin() -> None:
    # Worked example with goodwill (imi-lab, the mathematics of newsvendor optimization): cost 20,
    # price 50, salvage 10, goodwill 5: under 35, over 10.
    assert critical_fractile(50 - 20 + 5, 20 - 10) == pytest.approx(0.7778, abs=5e-5)
    # NewsvendorModel.jl, Nahmias and Olsen: cost 25, price 75, salvage 10.
    assert critical_fractile(75 - 25, 25 - 10) == pytest.approx(0.7692, abs=5e-5)


def test_what_a_quantity_brings_on_average() -> None:
    # NewsvendorModel.jl manual, index: normal(50, 20), 39 pieces: sold 35.34, lost 14.66, left
    # 3.656; Cachon and Terwiesch at 4186: sold 3060.16, lost 131.84.
    fine = (np.arange(400_000) + 0.5) / 400_000
    first = outcome(stats.norm(50, 20).ppf(fine), 39)
    assert first.sold == pytest.approx(35.34, abs=0.005)
    assert first.lost == pytest.approx(14.66, abs=0.005)
    assert first.left == pytest.approx(3.656, abs=0.005)
    second = outcome(stats.norm(3192, 1181).ppf(fine), 4186)
    assert second.sold == pytest.approx(3060.16, abs=0.5)
    assert second.lost == pytest.approx(131.84, abs=0.5)


def test_the_quantity_suffices_in_that_share_of_cases_and_no_smaller_does() -> None:
    demand = np.array([3, 1, 4, 1, 5, 9, 2, 6, 5, 3], dtype=np.int64)
    assert quantity_for(demand, 0.5) == 3
    assert quantity_for(demand, 0.51) == 4
    assert quantity_for(demand, 1.0) == 9
    assert quantity_for(demand, 0.0) == 1
