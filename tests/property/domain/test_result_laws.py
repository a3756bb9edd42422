"""Laws of an event's result that hold whatever is known about it."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from math import floor

import pytest
from hypothesis import Phase, find, given, settings
from tests.property.domain.event_strategies import event_facts, shuffled
from tests.property.domain.strategies import patient

from stallkeep.domain.event_facts import EventFacts, Refund, Takings
from stallkeep.domain.fees import take_home
from stallkeep.domain.results import event_entries, event_result
from stallkeep.domain.statement import Statement

MILLION = 1_000_000


def rounded(exact: Fraction) -> int:
    """Half up, away from zero: written apart from the product's own rounding."""
    magnitude = floor(abs(exact) + Fraction(1, 2))
    return magnitude if exact >= 0 else -magnitude


def figures(statement: Statement) -> dict[str, int]:
    """All amounts that must sum over the days."""
    return {
        "takings": statement.takings_minor,
        "tips": statement.tips_minor,
        "not income": statement.not_income_minor,
        "refunds": statement.refunds_minor,
        "tax": statement.tax_minor,
        "net sales": statement.net_sales_minor,
        "goods": statement.cost_of_goods.expected_minor,
        "goods at least": statement.cost_of_goods.low_minor,
        "goods at most": statement.cost_of_goods.high_minor,
        "margin": statement.gross_margin.expected_minor,
        "fees": statement.fees_minor,
        "costs": statement.costs_minor,
        "over/short": statement.over_short_minor,
        "net": statement.net.expected_minor,
        **{cost.kind: cost.amount_minor for cost in statement.costs},
    }


@patient
@given(event_facts())
def test_the_statement_s_lines_sum_to_the_net(facts: EventFacts) -> None:
    result = event_result(facts)
    for statement in (result.whole, *(day.statement for day in result.days)):
        goods, net = statement.cost_of_goods, statement.net
        assert statement.net_sales_minor == (
            statement.takings_minor
            - statement.not_income_minor
            - statement.refunds_minor
            - statement.tax_minor
        )
        assert statement.costs_minor == sum(cost.amount_minor for cost in statement.costs)
        assert net.expected_minor == (
            statement.net_sales_minor
            - goods.expected_minor
            - statement.fees_minor
            - statement.costs_minor
            + statement.over_short_minor
        )
        assert net.high_minor - net.low_minor == goods.high_minor - goods.low_minor
    assert result.whole.net.low_minor <= result.whole.net.expected_minor
    assert result.whole.net.expected_minor <= result.whole.net.high_minor


@patient
@given(event_facts())
def test_days_sum_to_the_whole_to_the_cent(facts: EventFacts) -> None:
    result = event_result(facts)
    by_day = [figures(day.statement) for day in result.days]
    for name, amount in figures(result.whole).items():
        assert sum(day.get(name, 0) for day in by_day) == amount
    if result.days:
        pieces = sum(day.statement.pieces.sold for day in result.days)
        assert pieces == result.whole.pieces.sold


@patient
@given(event_facts())
def test_entries_sum_to_the_net_and_explain_every_figure(facts: EventFacts) -> None:
    result = event_result(facts, explain=True)
    assert sum(entry.amount_minor for entry in event_entries(facts)) == (
        result.whole.net.expected_minor
    )
    assert result.explained is not None
    sums = [line for line in result.explained if not line.formula]
    assert sum(line.amount_minor for line in sums) == result.whole.net.expected_minor


@patient
@given(event_facts())
def test_states_sum_to_the_takings_of_every_method(facts: EventFacts) -> None:
    result = event_result(facts)
    assert result.adds_up
    cash_in_boxes = sum(
        box.counted_minor - box.float_minor + box.taken_out_minor + box.refunded_minor
        - (box.over_short_minor or 0) - box.noted_minor
        for box in result.cash_boxes
        if box.counted_minor is not None and box.float_minor is not None
    )  # fmt: skip
    for line in result.methods:
        paid = sum(t.amount_minor for t in facts.takings if t.method == line.method)
        assert line.takings_minor == paid + (cash_in_boxes if line.method == "cash" else 0)
        assert line.takings_minor == (
            line.matched_minor + line.proposed_minor + line.unmatched_minor + line.set_aside_minor
        )


@patient
@given(event_facts())
def test_the_order_of_the_facts_does_not_matter(facts: EventFacts) -> None:
    one, other = event_result(facts), event_result(shuffled(facts))
    assert figures(one.whole) == figures(other.whole)
    assert one.whole.pieces == other.whole.pieces
    assert [figures(day.statement) for day in one.days] == [
        figures(day.statement) for day in other.days
    ]


@patient
@given(event_facts())
def test_takings_tax_fees_and_costs_agree_with_a_recomputation(facts: EventFacts) -> None:
    whole = event_result(facts).whole
    boxes = recomputed_boxes(facts)
    unnoted = sum(extra for extra, _ in boxes.values())
    assert whole.takings_minor == sum(t.amount_minor for t in facts.takings) + unnoted
    assert whole.over_short_minor == sum(off for _, off in boxes.values())
    assert whole.refunds_minor == -sum(r.amount_minor for r in facts.refunds)
    assert whole.tax_minor == recomputed_tax(facts, [extra for extra, _ in boxes.values()])
    assert whole.fees_minor == recomputed_fees(facts)
    spent = sum(
        c.amount_minor - c.tax_minor * facts.reclaims_tax for c in facts.costs if c.kind != "fees"
    )
    pitch = facts.pitch_fee_minor + sum(day.pitch_fee_minor for day in facts.days)
    assert whole.costs_minor == spent + pitch


@patient
@given(event_facts())
def test_cost_of_goods_lies_within_plain_bounds(facts: EventFacts) -> None:
    result = event_result(facts)
    goods = result.whole.cost_of_goods
    known = sum(
        piece.cost_minor or 0
        for line in facts.takings
        for piece in line.pieces
        if not piece.is_returned
    )
    assert known <= goods.low_minor <= goods.expected_minor <= goods.high_minor
    if is_all_known(facts):
        # All the count misses is gone at worst; that it is gone is the count's word, not a fact.
        assert goods.expected_minor == goods.high_minor


def is_all_known(facts: EventFacts) -> bool:
    """Whether the cost of every piece sold or missed by the count was entered."""
    pieces = [p for line in facts.takings for p in line.pieces if not p.is_returned]
    return (
        facts.is_counted
        and all(piece.cost_minor is not None for piece in pieces)
        and all(piece.cost_minor is not None for piece in facts.rail)
    )


def recomputed_boxes(facts: EventFacts) -> dict[dt.date, tuple[int, int]]:
    """Unnoted takings and over/short per day, from the definition of the box."""
    boxes = {}
    for day in facts.days:
        if day.float_minor is None or day.counted_cash_minor is None:
            continue
        flows = [t.amount_minor for t in facts.takings if (t.method, t.day) == ("cash", day.day)]
        flows += [r.amount_minor for r in facts.refunds if (r.method, r.day) == ("cash", day.day)]
        off = day.counted_cash_minor - day.float_minor - sum(flows) + day.taken_out_minor
        boxes[day.day] = (0, off) if day.every_cash_sale_noted or off < 0 else (off, 0)
    return boxes


def recomputed_tax(facts: EventFacts, unnoted: list[int]) -> int:
    """Sales tax in exact fractions."""
    if facts.tax.mode == "none":
        told = [t.tax_minor or 0 for t in facts.takings if t.is_income]
        return sum(told) - sum(-(r.tax_minor or 0) for r in facts.refunds)
    tax = sum(tax_inside(facts, amount) for amount in unnoted)
    for refund in facts.refunds:
        tax += (
            tax_inside(facts, refund.amount_minor) if refund.tax_minor is None else refund.tax_minor
        )
    for line in facts.takings:
        if not line.is_income:
            continue
        if line.tax_minor is not None:
            tax += line.tax_minor
            continue
        exempt = sum(piece.price_minor for piece in line.pieces if piece.margin_scheme)
        taxed = [piece.price_minor for piece in line.pieces if not piece.margin_scheme]
        rest = line.amount_minor - line.tip_minor - exempt - sum(taxed)
        amounts = [*taxed, rest] if facts.tax.round_per == "line" else [sum(taxed) + rest]
        tax += sum(tax_inside(facts, amount) for amount in amounts)
    return tax


def tax_inside(facts: EventFacts, amount: int) -> int:
    rates = [Fraction(rate.rate_ppm, MILLION) for rate in facts.tax.rates]
    if facts.tax.parts_apart:
        return sum(rounded(amount * rate / (1 + sum(rates))) for rate in rates)
    return rounded(amount * sum(rates, Fraction(0)) / (1 + sum(rates)))


def recomputed_fees(facts: EventFacts) -> int:
    """Fees told, else by the schedule's own take-home."""
    fees = sum(
        c.amount_minor - c.tax_minor * facts.reclaims_tax for c in facts.costs if c.kind == "fees"
    )
    lines: list[Takings | Refund] = [*facts.takings, *facts.refunds]
    for line in lines:
        schedule = facts.fee_schedules.get(line.method)
        if line.fee_minor is not None:
            fees += line.fee_minor
        elif schedule is not None and line.amount_minor >= 0:
            fees += take_home(schedule, line.amount_minor).fees_minor
        elif schedule is not None and schedule.returned_on_refund:
            fees -= take_home(schedule, -line.amount_minor).fees_minor
    return fees


@pytest.mark.parametrize("is_counted", [False, True])
@pytest.mark.parametrize("is_fact", [False, True])
def test_the_laws_meet_events_of_every_sort(*, is_counted: bool, is_fact: bool) -> None:
    def is_such(facts: EventFacts) -> bool:
        goods = event_result(facts).whole.cost_of_goods
        return facts.is_counted == is_counted and goods.is_fact == is_fact

    look = settings(patient, max_examples=400, phases=[Phase.generate], database=None)
    assert is_such(find(event_facts(), is_such, settings=look))
