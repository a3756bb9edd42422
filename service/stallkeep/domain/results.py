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
from stallkeep.domain.cost_share import cost_share
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
from stallkeep.domain.ledger import Entry, fact, total
from stallkeep.domain.missing import missing, notes
from stallkeep.domain.piece_counts import piece_counts
from stallkeep.domain.sell_through import (
    Piece,
    SellThrough,
    by_category,
    by_price_band,
    gone_unmatched,
    pieces_of,
    sell_through,
)
from stallkeep.domain.statement import (
    NOT_COSTS,
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
]

METHODS = ("card", "cash", "online", "transfer", "other")

FORMULAS = (
    ("net_sales", "takings - not_income - refunds - tax"),
    ("gross_margin", "net_sales - cost_of_goods"),
    ("net", "gross_margin - fees - costs + over_short"),
)


class MethodTotals(msgspec.Struct, frozen=True, kw_only=True):
    """Takings of one method by the state of their matching: the line that must add up.

    Attributes:
        method: card, cash, ….
        matched_minor: Sum of matched payments.
        proposed_minor: Sum of payments with proposed pieces.
        unmatched_minor: Sum of payments without pieces, unnoted cash included.
        set_aside_minor: Sum of payments set aside.
        takings_minor: Sum of all payments, added up independently of their states.
        adds_up: Whether the four sums make the takings.
    """

    method: str
    matched_minor: int
    proposed_minor: int
    unmatched_minor: int
    set_aside_minor: int
    takings_minor: int
    adds_up: bool


class DayResult(msgspec.Struct, frozen=True, kw_only=True):
    """One day's statement. A day outside the event has one when money moved on it.

    Attributes:
        day: The day; None for amounts of an event without days.
        statement: Its figures. Costs of the whole event are shared equally over its days.
    """

    day: dt.date | None
    statement: Statement


class MarginScheme(msgspec.Struct, frozen=True, kw_only=True):
    """Pieces recorded as sold under a margin scheme: a report column, not a tax computation.

    Attributes:
        pieces: Pieces sold, brought back ones left out.
        sales_minor: What they brought.
        cost_minor: What they had cost, as far as known.
        margin_minor: sales - cost over the pieces with a known cost.
        without_cost: Pieces whose cost is not known.
    """

    pieces: int
    sales_minor: int
    cost_minor: int
    margin_minor: int
    without_cost: int


class Explained(msgspec.Struct, frozen=True, kw_only=True):
    """Where a figure of the whole event comes from.

    Attributes:
        figure: Name of the figure; a kind of cost for its sum.
        amount_minor: Effect on the net for a sum of lines; the figure itself for a formula.
        formula: How it is made from other figures; "" for a sum of lines.
        lines: The lines under it, by day; empty for a formula.
    """

    figure: str
    amount_minor: int
    formula: str = ""
    lines: tuple[Entry, ...] = ()


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
    boxes = cash_boxes(facts)
    takings = (*facts.takings, *unnoted_takings(boxes))
    pieces = pieces_of(facts)
    entries = event_entries(facts)
    lacking = missing(facts, takings, boxes)
    methods = _method_totals(takings)
    whole, days = _statements(facts, takings, pieces, entries)
    return EventResult(
        currency=facts.currency,
        is_final=not lacking,
        missing=lacking,
        notes=notes(facts, takings, boxes, pieces),
        methods=methods,
        adds_up=all(line.adds_up for line in methods)
        and sum(line.takings_minor for line in methods) == total(entries, "takings"),
        whole=whole,
        days=days,
        cash_boxes=boxes,
        sell_through=sell_through("all", pieces),
        by_category=by_category(pieces),
        by_price_band=by_price_band(pieces, facts.currency, facts.price_bands_minor),
        margin_scheme=_margin_scheme(takings),
        explained=_explained(entries, whole) if explain else None,
    )


def event_entries(facts: EventFacts) -> tuple[Entry, ...]:
    """List every amount of the result; their sum is the expected net."""
    boxes = cash_boxes(facts)
    takings = (*facts.takings, *unnoted_takings(boxes))
    gone = gone_unmatched(pieces_of(facts))
    return (
        *takings_entries(takings),
        *refund_entries(facts.refunds),
        *tax_entries(facts, takings),
        *goods_entries(facts, takings, cost_share(facts), gone),
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
    pieces: Sequence[Piece],
    entries: Sequence[Entry],
) -> tuple[Statement, tuple[DayResult, ...]]:
    count, counts = piece_counts(facts, takings, pieces)
    open_minutes = {day.day: day.open_minutes for day in facts.days}
    by_day: dict[dt.date | None, list[Entry]] = {day.day: [] for day in facts.days}
    tips: dict[dt.date | None, int] = {}
    for entry in entries:
        by_day.setdefault(entry.day, []).append(entry)
    for line in takings:
        tips[line.day] = tips.get(line.day, 0) + line.tip_minor
    nothing = PieceCount(known=0, estimated=0, taken=count.taken)
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
                pieces=counts.get(day, nothing) if day else nothing,
                open_minutes=open_minutes.get(day) if day else None,
                own_minutes=None,
            ),
        )
        for day in sorted(by_day, key=lambda day: day or dt.date.min)
    )
    return whole, days


def _method_totals(takings: Sequence[Takings]) -> tuple[MethodTotals, ...]:
    """Takings per method, methods in their usual order."""
    sums: dict[str, dict[str, int]] = {}
    totals: dict[str, int] = {}
    for line in takings:
        states = sums.setdefault(line.method, {})
        states[line.state] = states.get(line.state, 0) + line.amount_minor
        totals[line.method] = totals.get(line.method, 0) + line.amount_minor
    order = [method for method in METHODS if method in sums]
    order += sorted(method for method in sums if method not in METHODS)
    return tuple(_method_line(method, sums[method], totals[method]) for method in order)


def _method_line(method: str, states: dict[str, int], takings_minor: int) -> MethodTotals:
    four = [states.get(state, 0) for state in ("matched", "proposed", "unmatched", "set_aside")]
    return MethodTotals(
        method=method,
        matched_minor=four[0],
        proposed_minor=four[1],
        unmatched_minor=four[2],
        set_aside_minor=four[3],
        takings_minor=takings_minor,
        adds_up=sum(four) == takings_minor,
    )


def _margin_scheme(takings: Sequence[Takings]) -> MarginScheme | None:
    under = [
        piece
        for line in takings
        for piece in line.pieces
        if piece.margin_scheme and not piece.is_returned
    ]
    if not under:
        return None
    known = [
        (piece.price_minor, piece.cost_minor) for piece in under if piece.cost_minor is not None
    ]
    cost = sum(cost for _, cost in known)
    return MarginScheme(
        pieces=sum(piece.quantity for piece in under),
        sales_minor=sum(piece.price_minor for piece in under),
        cost_minor=cost,
        margin_minor=sum(price for price, _ in known) - cost,
        without_cost=sum(piece.quantity for piece in under if piece.cost_minor is None),
    )


def _explained(entries: Sequence[Entry], whole: Statement) -> tuple[Explained, ...]:
    accounts = dict.fromkeys([*NOT_COSTS, *(cost.kind for cost in whole.costs)])
    lines: dict[str, list[Entry]] = {account: [] for account in accounts}
    for entry in entries:
        lines[entry.account].append(entry)
    sums = tuple(
        Explained(
            figure=account,
            amount_minor=sum(entry.amount_minor for entry in listed),
            lines=tuple(sorted(listed, key=lambda entry: entry.day or dt.date.min)),
        )
        for account, listed in lines.items()
        if listed
    )
    figures = (
        whole.net_sales_minor,
        whole.gross_margin.expected_minor,
        whole.net.expected_minor,
    )
    return sums + tuple(
        Explained(figure=name, amount_minor=amount, formula=formula)
        for (name, formula), amount in zip(FORMULAS, figures, strict=True)
    )


def _sum_or_none(minutes: Sequence[int | None]) -> int | None:
    known = [m for m in minutes if m is not None]
    return sum(known) if known and len(known) == len(minutes) else None
