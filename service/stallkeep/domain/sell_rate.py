"""How many pieces sell per day: a Gamma-Poisson model of the shop's own events.

Every event has a rate of its own, pieces per day, drawn from a Gamma distribution; pieces sold at
it are Poisson with that rate. So events differ by more than chance within one (a plain Poisson
would promise too much), and what is not known is the mean of the rates and how much they differ.
Both are weighed on a grid, by the likelihood of the shop's events and a stated weak prior.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from math import cos, pi

import msgspec
import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from stallkeep.domain.errors import ForecastInputError

Floats = NDArray[np.float64]

PRIOR_PIECES_PER_DAY = 10.0
PRIOR_SPREAD = 0.7
PRIOR_SHAPE = 6.0
PRIOR_SHAPE_SPREAD = 0.8
"""The weak prior: common practice, no source. A weak day sells six or seven pieces and a good one
about twice as many, so half of all shops are taken to sell 10 or more on an average day, two in
three between 5 and 20, and days of one shop to differ by about 40 % of their mean."""

PRIOR_EVENTS = 0.5

OTHER_KIND = 0.5
OTHER_SEASON = 0.5
HALF_LIFE_DAYS = 730.0
"""How little an event counts that is of another kind, half a year off in season, or two years
old: common practice, no source."""


class GammaRate(msgspec.Struct, frozen=True, kw_only=True):
    """Rates known up to Gamma distributions, one per entry; the mean is shape / rate.

    Attributes:
        shape: Above 0.
        rate: Above 0, as many as shapes.

    Source:
        Conjugate Gamma-Poisson family; counts in some exposure are then negative binomial.
    """

    shape: Floats
    rate: Floats

    def after(self, count: float, exposure: float) -> GammaRate:
        """Learn from *count* pieces sold in *exposure* days."""
        return GammaRate(shape=self.shape + count, rate=self.rate + exposure)

    def counts(self, rng: np.random.Generator, exposure: float) -> NDArray[np.int64]:
        """Draw the pieces sold in further *exposure* days, one per entry."""
        return rng.poisson(rng.gamma(self.shape, 1.0 / self.rate) * exposure)


class PastEvent(msgspec.Struct, frozen=True, kw_only=True):
    """How many pieces an earlier event sold.

    Attributes:
        starts_on: Its first day.
        days: Days it lasted; a half day is 0.5.
        pieces: Pieces sold over all of them; expected ones rounded.
        kind: Kind of market; None when not entered.
    """

    starts_on: dt.date
    days: float
    pieces: int
    kind: str | None = None


class RateGrid(msgspec.Struct, frozen=True, kw_only=True):
    """What is believed about the shop's rates: a weight for each pair of mean and shape.

    Attributes:
        means: Pieces per day, flattened grid.
        shapes: Shape of the rates between events; the higher, the more alike they are.
        weights: Summing to 1.
    """

    means: Floats
    shapes: Floats
    weights: Floats

    def draw(
        self, rng: np.random.Generator, size: int, days: float, seen: tuple[int, float] = (0, 0.0)
    ) -> NDArray[np.int64]:
        """Draw numbers of pieces sold at one event.

        Args:
            rng: Source of chance.
            size: How many draws.
            days: Days still to come.
            seen: Pieces sold and days passed at this same event, from which its own rate is
                learned.
        """
        at = rng.choice(self.weights.size, size=size, p=self.weights)
        shapes = self.shapes[at]
        own = GammaRate(shape=shapes, rate=shapes / self.means[at]).after(*seen)
        return own.counts(rng, days)


def event_weight(event: PastEvent, kind: str | None, on: dt.date) -> float:
    """Tell how much an earlier event says about one of a kind on a day; from 0 to 1."""
    alike = 1.0 if kind is None or event.kind is None or event.kind == kind else OTHER_KIND
    days = abs((on - event.starts_on).days)
    season = (1 + cos(2 * pi * days / 365.25)) / 2
    recent: float = 0.5 ** (days / HALF_LIFE_DAYS)
    return alike * (OTHER_SEASON + (1 - OTHER_SEASON) * season) * recent


def learn_rates(events: Sequence[PastEvent], weights: Sequence[float]) -> RateGrid:
    """Weigh every mean and shape by the prior and the events.

    An event of weight 0.5 counts like half an event (its likelihood is raised to that power).

    Raises:
        ForecastInputError: An event lasted no time or sold less than nothing.
    """
    if any(event.days <= 0 or event.pieces < 0 for event in events):
        raise ForecastInputError(
            "an earlier event must have lasted some time and sold no less than 0"
        )
    means, shapes = np.meshgrid(np.geomspace(0.2, 500.0, 96), np.geomspace(0.4, 200.0, 28))
    mu, k = means.ravel(), shapes.ravel()
    score = -0.5 * (np.log(mu / PRIOR_PIECES_PER_DAY) / PRIOR_SPREAD) ** 2
    score = score - 0.5 * (np.log(k / PRIOR_SHAPE) / PRIOR_SHAPE_SPREAD) ** 2
    for event, weight in zip(events, weights, strict=True):
        score = score + weight * _log_likelihood(event, mu, k)
    likely = np.exp(score - score.max())
    return RateGrid(means=mu, shapes=k, weights=likely / likely.sum())


def _log_likelihood(event: PastEvent, mu: Floats, k: Floats) -> Floats:
    """Log of the negative binomial probability, up to a constant."""
    expected = mu * event.days
    y = event.pieces
    log_k: Floats = np.log(k)
    total: Floats = (
        gammaln(k + y) - gammaln(k) + k * log_k + y * np.log(expected)
        - (k + y) * np.log(k + expected)
    )  # fmt: skip
    return total


def prior_share(weights: Sequence[float]) -> float:
    """Tell what part of a forecast still rests on the prior: 1 without history.

    The prior is worth about half an event: its spread against that of one event's pieces.
    """
    return PRIOR_EVENTS / (PRIOR_EVENTS + sum(weights))
