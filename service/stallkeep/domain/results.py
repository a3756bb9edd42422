"""The result of an event: its profit and loss, whole and per day, from the facts about it.

    >>> result = event_result(facts)                         # doctest: +SKIP
    >>> result.whole.net.expected_minor                      # doctest: +SKIP

Facts and estimates are kept apart. Money that came in and costs that were entered are facts. The
cost of goods is a fact for matched pieces and for pieces missing in a count of the whole rail; for
payments that are not settled it is an estimate with a range, and so is the net built on it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import msgspec

from stallkeep.domain.cash_box import CashBox, cash_boxes, unnoted_takings
from stallkeep.domain.cautions import CAUTION
from stallkeep.domain.conservation import MethodTotals, method_totals
from stallkeep.domain.event_entries import (
    cost_entries,
    fee_entries,
    goods_entries,
    refund_entries,
    takings_entries,
    tax_entries,
)
from stallkeep.domain.event_facts import (
    Cost,
    EventDay,
    EventFacts,
    Possibility,
    Refund,
    SoldPiece,
    TakenPiece,
    Takings,
)
from stallkeep.domain.explained import Explained, explained_figures
from stallkeep.domain.ledger import Entry, fact, total
from stallkeep.domain.margin_scheme import MarginScheme
from stallkeep.domain.missing import missing, notes
from stallkeep.domain.piece_counts import piece_counts
from stallkeep.domain.sell_through import (
    SellThrough,
    band_starts,
    by_category,
    by_price_band,
    sell_through,
)
from stallkeep.domain.settled import PaidSum, Settled
from stallkeep.domain.settled_entries import settled_entries
from stallkeep.domain.settled_lines import settled_of, unsettled
from stallkeep.domain.statement import (
    BreakEven,
    CostTotal,
    PieceCount,
    Range,
    Rates,
    Statement,
    statement,
)

__all__ = [
    "BreakEven",
    "Cost",
    "CostTotal",
    "DayResult",
    "EventDay",
    "EventFacts",
    "EventResult",
    "Explained",
    "MarginScheme",
    "MethodTotals",
    "PieceCount",
    "Possibility",
    "Range",
    "Rates",
    "Refund",
    "SoldPiece",
    "Statement",
    "TakenPiece",
    "Takings",
    "event_entries",
    "event_result",
    "result_of_sums",
]


class DayResult(msgspec.Struct, frozen=True, kw_only=True):
    """One day's statement. A day outside the event has one when money moved on it.

    Attributes:
        day: The day; None for amounts of an event without days.
        statement: Its figures. Costs of the whole event are shared equally over its days.
    """

    day: dt.date | None
    statement: Statement


class EventResult(msgspec.Struct, frozen=True, kw_only=True):
    """What an event earned.

    Attributes:
        currency: ISO 4217 code of every amount.
        is_final: True when nothing is missing; otherwise this is the result so far.
        missing: What must be entered or settled, one sentence each.
        notes: What the figures rest on, one sentence each.
        methods: Takings per method.
        adds_up: Whether every method adds up.
        whole: The whole event.
        days: Per day, by date; every amount of money sums over the days to the whole.
        cash_boxes: Per day of the event.
        sell_through: Of all pieces.
        by_category: Sell-through per category.
        by_price_band: Sell-through per price band.
        margin_scheme: None when no sold piece is under one.
        explained: Only when asked for.
        caution: To be shown wherever these figures are.
    """

    currency: str
    is_final: bool
    missing: tuple[str, ...]
    notes: tuple[str, ...]
    methods: tuple[MethodTotals, ...]
    adds_up: bool
    whole: Statement
    days: tuple[DayResult, ...]
    cash_boxes: tuple[CashBox, ...]
    sell_through: SellThrough
    by_category: tuple[SellThrough, ...]
    by_price_band: tuple[SellThrough, ...]
    margin_scheme: MarginScheme | None
    explained: tuple[Explained, ...] | None = None
    caution: str = CAUTION


def event_result(facts: EventFacts, *, explain: bool = False) -> EventResult:
    """Work out the result of an event, finished or not.

    Args:
        facts: Everything known about it.
        explain: Whether to give the lines under each figure.
    """
    result = result_of_sums(unsettled(facts), settled_of(facts))
    if not explain:
        return result
    told = explained_figures(event_entries(facts), result.whole)
    return msgspec.structs.replace(result, explained=told)


def result_of_sums(facts: EventFacts, settled: Settled) -> EventResult:
    """Work out the result of an event whose settled payments and rail are added up already.

    Args:
        facts: The event without them.
        settled: The sums.
    """
    boxes = cash_boxes(facts, settled.paid)
    takings = (*facts.takings, *unnoted_takings(boxes))
    entries = (
        *settled_entries(facts, settled),
        *_entries(facts, takings, boxes, settled),
    )
    lacking = missing(facts, takings, settled, boxes)
    methods = method_totals((*settled.paid, *takings))
    whole, days = _statements(facts, takings, settled, entries)
    starts = band_starts(facts.currency, facts.price_bands_minor)
    return EventResult(
        currency=facts.currency,
        is_final=not lacking,
        missing=lacking,
        notes=notes(facts, takings, settled, boxes),
        methods=methods,
        adds_up=all(line.adds_up for line in methods)
        and sum(line.takings_minor for line in methods) == total(entries, "takings"),
        whole=whole,
        days=days,
        cash_boxes=boxes,
        sell_through=sell_through("all", settled.pieces),
        by_category=by_category(settled.pieces),
        by_price_band=by_price_band(settled.pieces, facts.currency, starts),
        margin_scheme=settled.margin_scheme,
    )


def event_entries(facts: EventFacts) -> tuple[Entry, ...]:
    """List every amount of the result; their sum is the expected net."""
    boxes = cash_boxes(facts)
    takings = (*facts.takings, *unnoted_takings(boxes))
    return _entries(facts, takings, boxes, settled_of(facts))


def _entries(
    facts: EventFacts,
    takings: Sequence[Takings],
    boxes: Sequence[CashBox],
    settled: Settled,
) -> tuple[Entry, ...]:
    """Post line by line; of what is added up, the share of cost and the pieces gone are used."""
    return (
        *takings_entries(takings),
        *refund_entries(facts.refunds),
        *tax_entries(facts, takings),
        *goods_entries(facts, takings, settled.share, settled.gone, is_counted=settled.is_counted),
        *fee_entries(facts, takings),
        *cost_entries(facts),
        *(
            fact("over_short", box.day, box.over_short_minor, "cash_box", "cash box")
            for box in boxes
            if box.over_short_minor
        ),
    )


def _statements(
    facts: EventFacts,
    takings: Sequence[Takings],
    settled: Settled,
    entries: Sequence[Entry],
) -> tuple[Statement, tuple[DayResult, ...]]:
    count, counts = piece_counts(facts, takings, settled)
    open_minutes = {day.day: day.open_minutes for day in facts.days}
    by_day: dict[dt.date | None, list[Entry]] = {day.day: [] for day in facts.days}
    tips: dict[dt.date | None, int] = {}
    for entry in entries:
        by_day.setdefault(entry.day, []).append(entry)
    lines: list[Takings | PaidSum] = [*settled.paid, *takings]
    for line in lines:
        tips[line.day] = tips.get(line.day, 0) + line.tip_minor
    nothing = PieceCount(known=0, estimated=0, taken=count.taken)
    of_no_day = nothing if counts else count
    whole = statement(
        entries,
        tips_minor=sum(tips.values()),
        pieces=count,
        open_minutes=_sum_or_none(list(open_minutes.values())),
        own_minutes=sum(facts.own_minutes.values()) or None,
    )
    days = tuple(
        DayResult(
            day=day,
            statement=statement(
                by_day[day],
                tips_minor=tips.get(day, 0),
                pieces=counts.get(day, nothing) if day else of_no_day,
                open_minutes=open_minutes.get(day) if day else None,
                own_minutes=None,
            ),
        )
        for day in sorted(by_day, key=lambda day: day or dt.date.min)
    )
    return whole, days


def _sum_or_none(minutes: Sequence[int | None]) -> int | None:
    known = [m for m in minutes if m is not None]
    return sum(known) if known and len(known) == len(minutes) else None
