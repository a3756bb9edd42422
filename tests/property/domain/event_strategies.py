"""Random events: any mixture of what can be known about one."""

from __future__ import annotations

import datetime as dt

import msgspec
from hypothesis import strategies as st
from tests.property.domain.strategies import fee_schedules

from stallkeep.domain.event_facts import (
    Cost,
    EventDay,
    EventFacts,
    Possibility,
    Refund,
    SoldPiece,
    TakenPiece,
    Takings,
    TakingsState,
)
from stallkeep.domain.tax import TaxRate, TaxSettings

FIRST = dt.date(2026, 5, 1)
days_around = st.integers(0, 5).map(lambda n: FIRST + dt.timedelta(days=n))
methods = st.sampled_from(["card", "cash", "online", "transfer", "other"])
states: st.SearchStrategy[TakingsState] = st.sampled_from(
    ("matched", "proposed", "unmatched", "set_aside")
)
categories = st.none() | st.sampled_from(["coats", "ceramics"])
prices = st.integers(0, 20_000)
costs_of_pieces = st.none() | st.integers(0, 9_000)
item_ids = st.integers(1, 25).map(lambda n: f"item {n}")

sold_pieces = st.builds(
    SoldPiece,
    item_id=item_ids,
    price_minor=prices,
    cost_minor=costs_of_pieces,
    quantity=st.integers(1, 3),
    category=categories,
    margin_scheme=st.booleans(),
    is_returned=st.booleans(),
)


@st.composite
def possibilities(draw: st.DrawFn) -> tuple[Possibility, ...]:
    """Up to three explanations whose probabilities sum to at most one."""
    parts = draw(st.lists(st.integers(0, 100), min_size=1, max_size=4))
    whole = max(1, sum(parts))
    return tuple(
        Possibility(
            probability=part / whole,
            pieces=draw(st.integers(0, 3)),
            cost_minor=draw(costs_of_pieces),
        )
        for part in parts[1:]
    )


@st.composite
def takings(draw: st.DrawFn, number: int) -> Takings:
    """One payment in any state."""
    state = draw(states)
    pieces = draw(st.lists(sold_pieces, min_size=1, max_size=3)) if state == "matched" else []
    tip = draw(st.integers(0, 500))
    rest = draw(st.integers(0, 30_000))
    return Takings(
        id=f"payment {number}",
        day=draw(days_around),
        method=draw(methods),
        amount_minor=sum(piece.price_minor for piece in pieces) + tip + rest,
        state=state,
        tip_minor=tip,
        tax_minor=draw(st.none() | st.integers(0, 900)),
        fee_minor=draw(st.none() | st.integers(0, 300)),
        pieces=tuple(pieces),
        possibilities=draw(possibilities()) if state in ("proposed", "unmatched") else (),
        is_income=state != "set_aside" or draw(st.booleans()),
    )


refunds = st.builds(
    Refund,
    id=st.just("refund"),
    day=days_around,
    method=methods,
    amount_minor=st.integers(-20_000, 2_000),
    tax_minor=st.none() | st.integers(-900, 0),
    fee_minor=st.none() | st.integers(-300, 0),
)

event_costs = st.builds(
    Cost,
    id=st.just("cost"),
    kind=st.sampled_from(["travel", "parking", "pitch_fee", "helpers", "fees", "other"]),
    amount_minor=st.integers(-500, 20_000),
    tax_minor=st.integers(0, 400),
    day=st.none() | days_around,
)

event_days = st.builds(
    EventDay,
    day=days_around,
    open_minutes=st.none() | st.integers(0, 720),
    pitch_fee_minor=st.integers(0, 15_000),
    float_minor=st.none() | st.integers(0, 20_000),
    counted_cash_minor=st.none() | st.integers(0, 90_000),
    taken_out_minor=st.integers(-2_000, 9_000),
    every_cash_sale_noted=st.booleans(),
    is_closed=st.booleans(),
)


@st.composite
def rails(draw: st.DrawFn) -> tuple[TakenPiece, ...]:
    """A rail that is counted wholly, partly or not at all."""
    ids = draw(st.lists(item_ids, unique=True, max_size=12))
    counted = draw(st.sampled_from(["wholly", "partly", "not"]))
    rail = []
    for item_id in ids:
        quantity = draw(st.integers(1, 4))
        is_counted = counted == "wholly" or (counted == "partly" and draw(st.booleans()))
        rail.append(
            TakenPiece(
                item_id=item_id,
                quantity=quantity,
                price_minor=draw(st.none() | prices),
                cost_minor=draw(costs_of_pieces),
                category=draw(categories),
                counted_home=draw(st.integers(0, quantity)) if is_counted else None,
            )
        )
    return tuple(rail)


tax_settings = st.builds(
    TaxSettings,
    mode=st.sampled_from(["none", "included", "added"]),
    rates=st.lists(
        st.builds(TaxRate, name=st.just("rate"), rate_ppm=st.integers(0, 250_000)), max_size=2
    ).map(tuple),
    round_per=st.sampled_from(["line", "receipt"]),
    parts_apart=st.booleans(),
)


@st.composite
def event_facts(draw: st.DrawFn) -> EventFacts:
    """An event of which anything may be known or missing."""
    count = draw(st.integers(0, 8))
    days = draw(st.lists(event_days, max_size=3, unique_by=lambda day: day.day))
    schedules = draw(st.fixed_dictionaries({}, optional={"card": fee_schedules}))
    return EventFacts(
        currency="EUR",
        days=tuple(sorted(days, key=lambda day: day.day)),
        takings=tuple(draw(takings(number)) for number in range(count)),
        refunds=tuple(draw(st.lists(refunds, max_size=2))),
        costs=tuple(draw(st.lists(event_costs, max_size=4))),
        pitch_fee_minor=draw(st.integers(0, 10_000)),
        rail=draw(rails()),
        fee_schedules=schedules,
        tax=draw(tax_settings),
        reclaims_tax=draw(st.booleans()),
        own_minutes=draw(st.fixed_dictionaries({}, optional={"selling": st.integers(0, 999)})),
    )


def shuffled(facts: EventFacts) -> EventFacts:
    """The same facts in another order."""
    return msgspec.structs.replace(
        facts,
        takings=facts.takings[::-1],
        refunds=facts.refunds[::-1],
        costs=facts.costs[::-1],
        rail=facts.rail[::-1],
    )
