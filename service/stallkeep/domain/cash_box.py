"""The cash box of each day: what should be in it, what is, and what that says."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import msgspec

from stallkeep.domain.event_facts import EventDay, EventFacts, Takings
from stallkeep.domain.settled import PaidSum

CASH = "cash"


class CashBox(msgspec.Struct, frozen=True, kw_only=True):
    """One day's cash box. All amounts in minor units.

    expected = float + noted - refunded - taken out. When every cash sale was noted, counted -
    expected is over/short. When not, what lies beyond is takings that nobody noted; only a box
    that holds less than expected is short.

    Attributes:
        day: The day.
        float_minor: Cash at opening; None when not entered.
        noted_minor: Cash takings that have a line of their own.
        refunded_minor: Cash given back, as a plus amount.
        taken_out_minor: Other cash that left the box.
        expected_minor: None without a float.
        counted_minor: None when not counted.
        unnoted_minor: Takings without a line, 0 when none can be told.
        over_short_minor: Plus is over, minus short; None when it cannot be told.
    """

    day: dt.date
    float_minor: int | None
    noted_minor: int
    refunded_minor: int
    taken_out_minor: int
    expected_minor: int | None
    counted_minor: int | None
    unnoted_minor: int
    over_short_minor: int | None


def cash_boxes(facts: EventFacts, paid: Iterable[PaidSum] = ()) -> tuple[CashBox, ...]:
    """Work out the box of every day of the event, in the order of the days.

    Args:
        facts: The event.
        paid: Payments that are not among its lines, added up.
    """
    noted: dict[dt.date, int] = {}
    refunded: dict[dt.date, int] = {}
    lines: list[Takings | PaidSum] = [*facts.takings, *paid]
    for line in lines:
        if line.method == CASH:
            noted[line.day] = noted.get(line.day, 0) + line.amount_minor
    for refund in facts.refunds:
        if refund.method == CASH:
            refunded[refund.day] = refunded.get(refund.day, 0) - refund.amount_minor
    return tuple(
        _cash_box(day, noted.get(day.day, 0), refunded.get(day.day, 0)) for day in facts.days
    )


def unnoted_takings(boxes: tuple[CashBox, ...]) -> tuple[Takings, ...]:
    """Make one unmatched line of takings for the cash of each day that nobody noted."""
    return tuple(
        Takings(
            id=f"cash_box {box.day.isoformat()}",
            day=box.day,
            method=CASH,
            amount_minor=box.unnoted_minor,
            state="unmatched",
        )
        for box in boxes
        if box.unnoted_minor
    )


def _cash_box(day: EventDay, noted_minor: int, refunded_minor: int) -> CashBox:
    expected = (
        None
        if day.float_minor is None
        else day.float_minor + noted_minor - refunded_minor - day.taken_out_minor
    )
    unnoted, over_short = 0, None
    if expected is not None and day.counted_cash_minor is not None:
        difference = day.counted_cash_minor - expected
        if day.every_cash_sale_noted or difference <= 0:
            over_short = difference
        else:
            unnoted = difference
    return CashBox(
        day=day.day,
        float_minor=day.float_minor,
        noted_minor=noted_minor,
        refunded_minor=refunded_minor,
        taken_out_minor=day.taken_out_minor,
        expected_minor=expected,
        counted_minor=day.counted_cash_minor,
        unnoted_minor=unnoted,
        over_short_minor=over_short,
    )
