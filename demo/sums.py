"""What the fair earned, added up from what really happened."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from demo.calendar_of_events import FAIR_EXPENSES, HARBOUR_FAIR
from demo.exports_cards import Line
from demo.sales import Sale
from demo.sheet import point
from demo.typed import CASH_SLIPS, Json
from demo.world import World


def fair_result(world: World, lines: list[Line]) -> dict[str, Json]:
    """Add up the fair: by the files, which lack a forgotten sale, and in truth."""
    written = [sale for sale in world.sales if not sale.forgotten]
    sold = sum(len(sale.pieces) for sale in written if not sale.refunded_at)
    taken = len(world.rail.pieces)
    return {
        "by_the_files": _result(written, lines, HARBOUR_FAIR.dates),
        "in_truth": _result(world.sales, lines, HARBOUR_FAIR.dates),
        "by_the_files_per_day": {
            day.isoformat(): _result(written, lines, [day]) for day in HARBOUR_FAIR.dates
        },
        "pieces_taken": taken,
        "pieces_sold_by_the_files": sold,
        "pieces_home": len(world.home),
        "cash_over": {day.isoformat(): _over(world.sales, day) for day in HARBOUR_FAIR.dates},
    }


def _result(sales: Iterable[Sale], lines: list[Line], days: Sequence[dt.date]) -> dict[str, Json]:
    """Add up *days*; a refund, with its piece, counts on the day it was made."""
    sold = [sale for sale in sales if sale.at.date() in days]
    back = [s for s in sales if s.refunded_at and s.refunded_at.date() in days]
    card = sum(sale.amount for sale in sold if sale.method == "card")
    cash = sum(sale.amount for sale in sold if sale.method == "cash")
    refunds = sum(sale.amount for sale in back)
    fees = sum(line.fee for line in lines if line.at.date() in days)
    costs = _costs(days)
    goods = _cost_of_goods(sold) - _cost_of_goods(back)
    net = card + cash - refunds - fees - sum(costs.values()) - goods
    return {
        "takings_card": point(card),
        "takings_cash": point(cash),
        "tips": point(sum(sale.tip for sale in sold)),
        "refunds": point(refunds),
        "card_fees": point(fees),
        "cost_of_goods": point(goods),
        "costs": {kind: point(cents) for kind, cents in costs.items()},
        "net": point(net),
    }


def _costs(days: Sequence[dt.date]) -> dict[str, int]:
    costs = {"pitch_fee": sum(d.pitch_fee for d in HARBOUR_FAIR.days if d.day in days)}
    for expense in FAIR_EXPENSES:
        if HARBOUR_FAIR.dates[expense.day] in days:
            kind = expense.category.lower()
            costs[kind] = costs.get(kind, 0) + expense.amount
    return costs


def _cost_of_goods(sales: Iterable[Sale]) -> int:
    return sum(piece.cost for sale in sales for piece in sale.pieces)


def _over(sales: Iterable[Sale], day: dt.date) -> str:
    """Counted cash less expected cash."""
    forgotten = sum(sale.amount for sale in sales if sale.forgotten and sale.at.date() == day)
    return point(forgotten + CASH_SLIPS.get(day, 0))
