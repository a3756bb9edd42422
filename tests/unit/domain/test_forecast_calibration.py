"""Do 80 % intervals hold about 80 times in 100? Over simulated shops, each with its own truth.

The first kind of shop is drawn as the forecast's prior says shops are; the second is not: its
events also differ by season, by kind of market and by a trend, of which the forecast knows only
that such events count less. An interval over whole pieces holds a little more than its share,
because both its ends belong to it.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from stallkeep.domain.forecast import ForecastPiece, ForecastQuestion, forecast
from stallkeep.domain.sell_rate import PastEvent

MAY = dt.date(2026, 5, 2)
SHOPS = 300


class Shop:
    """One simulated shop: how its events really sell."""

    def __init__(self, rng: np.random.Generator, *, unlike: bool) -> None:
        self.rng = rng
        self.mean = 10 * np.exp(0.7 * rng.standard_normal())
        self.shape = 6 * np.exp(0.8 * rng.standard_normal())
        self.kinds = np.exp((0.3 if unlike else 0.0) * rng.standard_normal(2))
        self.season = 0.25 if unlike else 0.0
        self.phase = rng.uniform(0, 2 * np.pi)
        self.trend = (0.15 if unlike else 0.0) * rng.standard_normal()

    def event(self, on: dt.date, kind: int) -> PastEvent:
        days = float(self.rng.integers(1, 4))
        wave = self.season * np.cos(2 * np.pi * on.toordinal() / 365.25 + self.phase)
        mean = self.mean * self.kinds[kind] * np.exp(wave + self.trend * (on - MAY).days / 365.25)
        pieces = self.rng.poisson(self.rng.gamma(self.shape, mean / self.shape) * days)
        return PastEvent(starts_on=on, days=days, pieces=int(pieces), kind=f"kind {kind}")


def holds(rng: np.random.Generator, *, unlike: bool, fewest: int, most: int) -> bool:
    """Whether the net of one shop's next event falls into the 80 % interval."""
    shop = Shop(rng, unlike=unlike)
    past = [
        shop.event(MAY - dt.timedelta(days=int(rng.integers(10, 900))), int(rng.integers(2)))
        for _ in range(rng.integers(fewest, most + 1))
    ]
    coming = shop.event(MAY, 0)
    prices = rng.integers(5_00, 80_00, 150)
    result = forecast(
        ForecastQuestion(
            currency="EUR",
            starts_on=MAY,
            days=coming.days,
            kind="kind 0",
            history=tuple(past),
            rail=tuple(
                ForecastPiece(item_id=str(n), price_minor=int(price), cost_minor=int(price) // 4)
                for n, price in enumerate(prices)
            ),
            pitch_fee_minor=150_00,
            draws=1_000,
            seed=int(rng.integers(2**31)),
        )
    )
    sold = rng.choice(prices, min(coming.pieces, prices.size), replace=False)
    net = int((sold - sold // 4).sum()) - 150_00
    quantiles = {quantile.percent: quantile.net_minor for quantile in result.net}
    return quantiles[10] <= net <= quantiles[90]


@pytest.mark.parametrize("unlike", [False, True])
@pytest.mark.parametrize(("fewest", "most"), [(0, 2), (3, 12)])
def test_eighty_per_cent_intervals_hold_about_eighty_times_in_a_hundred(
    *, unlike: bool, fewest: int, most: int
) -> None:
    rng = np.random.default_rng(20260502)
    held = sum(holds(rng, unlike=unlike, fewest=fewest, most=most) for _ in range(SHOPS))
    # Two standard errors at 300 shops are 0.046.
    assert held / SHOPS == pytest.approx(0.80, abs=0.05)
