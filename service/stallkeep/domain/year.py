"""A shop's year: totals per month, channel, event and kind of cost, and the stock at a date.

Everything is added up from the same rows, so each way of cutting the year has the same sum.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import msgspec

from stallkeep.domain.cautions import CAUTION

SALES = ("takings", "not_income", "refunds", "tax")
COLUMNS = (*SALES, "cost_of_goods", "fees", "postage", "costs", "over_short")


class YearRow(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Money of one day (or a sum of alike ones) with its effect on the net.

    Attributes:
        day: Any day of its month.
        channel: Name of the channel; "" for what belongs to none.
        event: Name of the event, unique in the year; "" for none.
        account: As in the result of an event: takings, not_income, refunds, tax, cost_of_goods,
            fees, over_short, postage, or a kind of cost.
        amount_minor: Effect on the net: plus earns, minus costs.
        pieces: Pieces sold, on rows of takings; else 0.
    """

    day: dt.date
    channel: str
    event: str
    account: str
    amount_minor: int
    pieces: int = 0


class YearLine(msgspec.Struct, frozen=True, kw_only=True):
    """Totals of one part of the year; every amount is its effect on the net.

    Attributes:
        name: "2026-05", a channel or an event; "" for what belongs to none.
        pieces: Pieces sold.
        takings_minor: What customers paid.
        not_income_minor: Taken off because it is no earning.
        refunds_minor: Given back.
        tax_minor: Sales tax.
        cost_of_goods_minor: Of pieces sold.
        fees_minor: Kept by channels and providers.
        postage_minor: Received less paid.
        costs_minor: Everything else that was spent.
        over_short_minor: Of cash boxes.
        net_minor: The sum of all of them.
    """

    name: str
    pieces: int
    takings_minor: int
    not_income_minor: int
    refunds_minor: int
    tax_minor: int
    cost_of_goods_minor: int
    fees_minor: int
    postage_minor: int
    costs_minor: int
    over_short_minor: int
    net_minor: int


class CostLine(msgspec.Struct, frozen=True, kw_only=True):
    """What one kind of cost came to in the year, as a plus amount."""

    kind: str
    amount_minor: int


class YearTotals(msgspec.Struct, frozen=True, kw_only=True):
    """A year cut in four ways.

    Attributes:
        year: The calendar year.
        whole: All of it; its name is the year.
        months: All twelve, in order.
        channels: In order of their names.
        events: In order of their names.
        costs: Per kind, in order of their names.
        adds_up: Whether months, channels and events each sum to the whole.
        caution: To be shown wherever these figures are.
    """

    year: int
    whole: YearLine
    months: tuple[YearLine, ...]
    channels: tuple[YearLine, ...]
    events: tuple[YearLine, ...]
    costs: tuple[CostLine, ...]
    adds_up: bool
    caution: str = CAUTION


def year_totals(rows: Iterable[YearRow], year: int) -> YearTotals:
    """Add up a calendar year; rows of other years are left out."""
    whole: dict[str, int] = {}
    cuts: tuple[dict[str, dict[str, int]], ...] = ({}, {}, {})
    months = [f"{year}-{month:02d}" for month in range(1, 13)]
    cuts[0].update((month, {}) for month in months)
    kinds: dict[str, int] = {}
    for row in rows:
        if row.day.year != year:
            continue
        column = row.account if row.account in COLUMNS else "costs"
        if column == "costs":
            kinds[row.account] = kinds.get(row.account, 0) - row.amount_minor
        names = (months[row.day.month - 1], row.channel, row.event)
        for sums in (
            whole,
            *(cut.setdefault(name, {}) for cut, name in zip(cuts, names, strict=True)),
        ):
            sums[column] = sums.get(column, 0) + row.amount_minor
            sums["pieces"] = sums.get("pieces", 0) + row.pieces
    line = _line(str(year), whole)
    by_month, by_channel, by_event = (
        tuple(_line(name, cut[name]) for name in sorted(cut)) for cut in cuts
    )
    return YearTotals(
        year=year,
        whole=line,
        months=by_month,
        channels=by_channel,
        events=by_event,
        costs=tuple(CostLine(kind=kind, amount_minor=kinds[kind]) for kind in sorted(kinds)),
        adds_up=all(_sum(cut, str(year)) == line for cut in (by_month, by_channel, by_event)),
    )


def _line(name: str, sums: dict[str, int]) -> YearLine:
    amounts = {f"{column}_minor": sums.get(column, 0) for column in COLUMNS}
    return YearLine(
        name=name, pieces=sums.get("pieces", 0), net_minor=sum(amounts.values()), **amounts
    )


def _sum(lines: Iterable[YearLine], name: str) -> YearLine:
    sums: dict[str, int] = {}
    for line in lines:
        for field in YearLine.__struct_fields__[1:]:
            sums[field] = sums.get(field, 0) + getattr(line, field)
    empty = dict.fromkeys(YearLine.__struct_fields__[1:], 0)
    return YearLine(name=name, **(empty | sums))
