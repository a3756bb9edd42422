"""Entries of an event's settled payments, added up: one for each day and sum."""

from __future__ import annotations

from collections.abc import Iterator

from stallkeep.domain.event_entries import estimate
from stallkeep.domain.event_facts import EventFacts
from stallkeep.domain.fees import fees_of_payment
from stallkeep.domain.ledger import Entry, fact
from stallkeep.domain.settled import Settled
from stallkeep.domain.tax import tax_within


def settled_entries(facts: EventFacts, settled: Settled) -> Iterator[Entry]:
    """Post takings, tax, fees and cost of goods as `event_entries` does line by line."""
    yield from _payments(settled)
    for group in settled.fees:
        fee = fees_of_payment(facts.fee_schedules[group.method], group.amount_minor) * group.times
        yield fact("fees", group.day, -fee, "", f"{group.method} fee", basis="schedule")
    for group in settled.taxes:
        tax = tax_within(group.amount_minor, facts.tax) * group.times
        yield fact("tax", group.day, -tax, "", "sales tax")
    yield from _goods(settled)


def _payments(settled: Settled) -> Iterator[Entry]:
    for group in settled.paid:
        yield fact("takings", group.day, group.amount_minor, "", f"{group.method}, {group.state}")
        yield fact("fees", group.day, -(group.fee_minor or 0), "", f"{group.method} fee")
        if group.is_income:
            yield fact("tax", group.day, -group.tax_minor, "", "sales tax")
        else:
            yield fact("not_income", group.day, -group.amount_minor, "", "set aside, no earning")


def _goods(settled: Settled) -> Iterator[Entry]:
    share = settled.share
    for group in settled.sold:
        if group.cost_minor is not None:
            yield fact("cost_of_goods", group.day, -group.cost_minor, "", "pieces sold")
            continue
        cost = share.of(group.price_minor // group.lines)
        expected, low, high = (part * group.lines for part in cost)
        yield estimate(group.day, "", (expected, low, high), "pieces sold, cost not known")
