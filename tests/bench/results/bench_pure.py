"""Time the pure computations behind results: `python tests/bench/results/bench_pure.py`.

Prints the median and the slowest of the runs in milliseconds. The forecast's goal is 300 ms for
20,000 draws; the result of an event with 2,000 sales has to leave room for the database within
its 50 ms.
"""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Callable
from functools import partial
from statistics import median
from time import perf_counter

import numpy as np

from stallkeep.domain.fees import FeePart, FeeSchedule
from stallkeep.domain.forecast import ForecastPiece, ForecastQuestion, forecast
from stallkeep.domain.results import (
    EventDay,
    EventFacts,
    SoldPiece,
    TakenPiece,
    Takings,
    event_result,
)
from stallkeep.domain.sell_rate import PastEvent

RUNS = 21
FIRST = dt.date(2026, 5, 2)
CARD = FeeSchedule(parts=(FeePart(name="card fee", kind="payment", rate_ppm=25_000),))


def a_question(events: int, rail: int) -> ForecastQuestion:
    rng = np.random.default_rng(1)
    return ForecastQuestion(
        currency="EUR",
        starts_on=FIRST,
        days=2.0,
        history=tuple(
            PastEvent(
                starts_on=FIRST - dt.timedelta(days=14 * (n + 1)),
                days=2.0,
                pieces=int(rng.poisson(18)),
            )
            for n in range(events)
        ),
        rail=tuple(
            ForecastPiece(item_id=str(n), price_minor=int(rng.integers(500, 8000)), cost_minor=700)
            for n in range(rail)
        ),
        pitch_fee_minor=180_00,
        fees=CARD,
        draws=20_000,
    )


def an_event(sales: int) -> EventFacts:
    days = [FIRST, FIRST + dt.timedelta(days=1)]
    return EventFacts(
        currency="EUR",
        days=tuple(EventDay(day=day, open_minutes=480, pitch_fee_minor=90_00) for day in days),
        takings=tuple(
            Takings(
                id=f"payment {n}",
                day=days[n % 2],
                method="card",
                amount_minor=1000 + n,
                state="matched",
                pieces=(SoldPiece(item_id=f"item {n}", price_minor=1000 + n, cost_minor=300),),
            )
            for n in range(sales)
        ),
        rail=tuple(
            TakenPiece(item_id=f"item {n}", price_minor=1000 + n, cost_minor=300, counted_home=0)
            for n in range(sales + 100)
        ),
        fee_schedules={"card": CARD},
    )


def timed(name: str, run: Callable[[], object]) -> None:
    run()
    times = []
    for _ in range(RUNS):
        start = perf_counter()
        run()
        times.append((perf_counter() - start) * 1000)
    sys.stdout.write(f"{name:55} {median(times):8.1f} {max(times):8.1f}\n")


def main() -> None:
    for events, rail in ((0, 100), (20, 150), (200, 2000)):
        question = a_question(events, rail)
        name = f"forecast, 20,000 draws, {events} events, rail of {rail}"
        timed(name, partial(forecast, question))
    facts = an_event(2_000)
    timed("result of an event with 2,000 sales", partial(event_result, facts))
    timed("the same, every line explained", partial(event_result, facts, explain=True))


if __name__ == "__main__":
    main()
