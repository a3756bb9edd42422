"""Pieces per day against published Gamma-Poisson and negative binomial figures, and scipy."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from scipy import stats

from stallkeep.domain.errors import ForecastInputError
from stallkeep.domain.sell_rate import (
    GammaRate,
    PastEvent,
    RateGrid,
    _log_likelihood,
    event_weight,
    learn_rates,
    prior_share,
)

MAY = dt.date(2026, 5, 2)


def an_event(pieces: int, *, days: float = 1.0, ago: int = 0, kind: str | None = None) -> PastEvent:
    return PastEvent(starts_on=MAY - dt.timedelta(days=ago), days=days, pieces=pieces, kind=kind)


def mean_of(grid: RateGrid) -> float:
    return float((grid.means * grid.weights).sum())


def a_rate(shape: float, rate: float, size: int = 1) -> GammaRate:
    return GammaRate(shape=np.full(size, shape), rate=np.full(size, rate))


def of(rate: GammaRate) -> tuple[float, float]:
    """Shape and rate of the first entry."""
    return float(rate.shape[0]), float(rate.rate[0])


def test_four_counts_update_the_prior_of_the_book() -> None:
    # Bayes Rules!, chapter 5: Gamma(10, 2) and 6, 2, 2, 1 give Gamma(21, 6): mean 3.5, mode
    # 3.3333, variance .5833, standard deviation .7638.
    after = a_rate(10, 2)
    for count in (6, 2, 2, 1):
        after = after.after(count, 1)
    assert of(after) == (21, 6)
    exact = stats.gamma(21, scale=1 / 6)
    assert exact.mean() == pytest.approx(3.5)
    assert exact.var() == pytest.approx(0.5833, abs=5e-5)
    assert exact.std() == pytest.approx(0.7638, abs=5e-5)


@pytest.mark.parametrize(
    ("shape", "rate", "days", "mean", "variance", "least", "chance"),
    [
        # Derived from the row above, also scipy's nbinom(21, 6/7) and nbinom(21, 6/8).
        (21, 6, 1, 3.5, 4.083333, 4, 0.454958),
        (21, 6, 2, 7.0, 9.3333, 10, 0.196593),
        # Blitzstein and Hwang, Gamma-Poisson: r0 = 5, b0 = 1, t = 2 is NBin(5, 1/3) with mean 10
        # and variance 30; derived: .4755 to reach ten, where a plain Poisson has .5421.
        (5, 1, 2, 10.0, 30.0, 10, 0.475500),
    ],
)
def test_counts_are_negative_binomial(
    *, shape: float, rate: float, days: float, mean: float, variance: float, least: int,
    chance: float,
) -> None:  # fmt: skip
    exact = stats.nbinom(shape, rate / (rate + days))
    assert exact.mean() == pytest.approx(mean)
    assert exact.var() == pytest.approx(variance, abs=1e-4)
    assert exact.sf(least - 1) == pytest.approx(chance, abs=1e-6)
    drawn = a_rate(shape, rate, 200_000).counts(np.random.default_rng(1), days)
    assert float(drawn.mean()) == pytest.approx(mean, rel=0.01)
    assert float(drawn.var()) == pytest.approx(variance, rel=0.02)
    assert float((drawn >= least).mean()) == pytest.approx(chance, abs=0.004)


def test_exposure_counts_in_the_update() -> None:
    # NIST/SEMATECH e-Handbook 8.4.6 (numbers from memory): Gamma(2, 1400), two failures in 1909
    # hours: (4, 3309), median time between failures 901, lower 80 % limit 600.
    shape, rate = of(a_rate(2, 1400).after(2, 1909))
    assert (shape, rate) == (4, 3309)
    exact = stats.gamma(shape, scale=1 / rate)
    assert 1 / exact.ppf(0.5) == pytest.approx(901, abs=0.5)
    assert 1 / exact.ppf(0.8) == pytest.approx(600, abs=0.5)


def test_rates_of_two_books() -> None:
    # Gelman, Bayesian Data Analysis (from memory): Gamma(3, 5), 3 in 2, then 30 in 20: means
    # .86 and 1.32, more than 1 with .30 and .93.
    for count, years, mean, above_one in ((3, 2, 0.86, 0.30), (30, 20, 1.32, 0.93)):
        shape, rate = of(a_rate(3, 5).after(count, years))
        assert shape / rate == pytest.approx(mean, abs=0.005)
        assert stats.gamma(shape, scale=1 / rate).sf(1) == pytest.approx(above_one, abs=0.005)
    # Hoff, A First Course, chapter 3 (from memory): Gamma(2, 1), 217 in 111 and 66 in 44: means
    # 1.955 and 1.511; the next of the first is higher with .48, equal with .22.
    first, second = a_rate(2, 1, 200_000).after(217, 111), a_rate(2, 1, 200_000).after(66, 44)
    assert (of(first), of(second)) == ((219, 112), (68, 45))
    rng = np.random.default_rng(2)
    one, other = first.counts(rng, 1), second.counts(rng, 1)
    assert float((one > other).mean()) == pytest.approx(0.48, abs=0.006)
    assert float((one == other).mean()) == pytest.approx(0.22, abs=0.006)


def test_the_likelihood_is_that_of_scipy_and_peaks_where_bliss_and_fisher_found_it() -> None:
    # Bliss and Fisher (1953), from memory: 70 38 17 10 9 3 2 1 leaves, mean 1.14667, k 1.02459.
    frequencies = [70, 38, 17, 10, 9, 3, 2, 1]
    mu, k = np.meshgrid(np.linspace(0.8, 1.6, 161), np.linspace(0.6, 1.8, 241))
    flat_mu, flat_k = mu.ravel(), k.ravel()
    score = np.zeros(flat_mu.size)
    exact = np.zeros(flat_mu.size)
    for count, frequency in enumerate(frequencies):
        event = an_event(count)
        score += frequency * _log_likelihood(event, flat_mu, flat_k)
        exact += frequency * stats.nbinom(flat_k, flat_k / (flat_k + flat_mu)).logpmf(count)
    assert score - score[0] == pytest.approx(exact - exact[0], abs=1e-8)
    best = int(score.argmax())
    assert flat_mu[best] == pytest.approx(1.14667, abs=0.005)
    assert flat_k[best] == pytest.approx(1.02459, abs=0.005)


def test_what_an_event_has_sold_so_far_tells_its_own_rate() -> None:
    # Mean 5 and shape 10 are Gamma(10, 2); eleven pieces in four days make it Gamma(21, 6), whose
    # next day reaches four with .454958.
    grid = RateGrid(means=np.array([5.0]), shapes=np.array([10.0]), weights=np.array([1.0]))
    drawn = grid.draw(np.random.default_rng(2), 200_000, 1.0, (11, 4.0))
    assert float((drawn >= 4).mean()) == pytest.approx(0.454958, abs=0.004)


def test_without_history_a_weak_day_and_a_good_one_are_as_the_trade_says() -> None:
    # Common practice, no source: a weak day sells six or seven pieces, a good one about twice.
    drawn = learn_rates((), ()).draw(np.random.default_rng(3), 50_000, 1.0)
    low, middle, high = np.percentile(drawn, [25, 50, 75])
    assert low == pytest.approx(6, abs=1)
    assert middle == pytest.approx(10, abs=1)
    assert high == pytest.approx(16, abs=2)
    assert prior_share(()) == 1.0


def test_much_history_speaks_for_itself() -> None:
    rng = np.random.default_rng(4)
    events = [an_event(int(rng.poisson(rng.gamma(8, 25 / 8) * 2)), days=2.0) for _ in range(300)]
    grid = learn_rates(events, [1.0] * 300)
    assert mean_of(grid) == pytest.approx(sum(e.pieces for e in events) / 600, rel=0.03)
    shape = float(np.exp((np.log(grid.shapes) * grid.weights).sum()))
    assert shape == pytest.approx(8, rel=0.25)
    assert prior_share([1.0] * 300) < 0.002


def test_an_event_of_no_weight_says_nothing() -> None:
    nothing = learn_rates((), ())
    assert learn_rates([an_event(80)], [0.0]).weights == pytest.approx(nothing.weights)
    assert mean_of(learn_rates([an_event(80)], [1.0])) > mean_of(nothing)


def test_an_event_counts_less_when_old_of_another_kind_or_season() -> None:
    new = event_weight(an_event(1, ago=0, kind="harbour"), "harbour", MAY)
    assert new == 1.0
    assert event_weight(an_event(1, kind="town"), "harbour", MAY) == 0.5
    assert event_weight(an_event(1, kind=None), "harbour", MAY) == 1.0
    last_year = event_weight(an_event(1, ago=365), None, MAY)
    half_a_year = event_weight(an_event(1, ago=183), None, MAY)
    assert half_a_year < last_year < new
    assert event_weight(an_event(1, ago=731), None, MAY) == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize("event", [an_event(-1), an_event(3, days=0.0)])
def test_an_impossible_event_is_refused(event: PastEvent) -> None:
    with pytest.raises(ForecastInputError):
        learn_rates([event], [1.0])
