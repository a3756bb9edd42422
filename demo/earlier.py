"""The events that are over: what was taken and sold, every piece with its code noted."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from demo.calendar_of_events import CROCKERY_MARKET, SPRING_MARKET, WOOL_DAY, Event
from demo.dice import Dice
from demo.pieces import Piece
from demo.sales import Method, Sale, agreed_price

from stallkeep.domain.tag_codes import to_text


@dataclass(frozen=True)
class Plan:
    """How an event went, in numbers.

    Attributes:
        taken: Pieces on the rail.
        sold: Pieces sold, for each day.
        categories: What was taken; every category when empty.
    """

    event: Event
    taken: int
    sold: tuple[int, ...]
    categories: tuple[str, ...] = ()


PLANS = (
    Plan(WOOL_DAY, 32, (12,), ("Knitwear", "Small wool", "Workwear")),
    Plan(SPRING_MARKET, 54, (13, 7)),
    Plan(CROCKERY_MARKET, 40, (14,), ("Kitchen ceramics", "Small wool")),
)
PERCENT_HAGGLED = 25
PERCENT_CASH = 30


@dataclass(frozen=True)
class PastEvent:
    """An event that is over, with its rail and its sales."""

    event: Event
    rail: tuple[Piece, ...]
    sales: tuple[Sale, ...]


def hold_earlier(dice: Dice, plan: Plan, stock: list[Piece]) -> PastEvent:
    """Let one earlier event happen with what is in *stock*."""
    day = plan.event.dates[0]
    fitting = [
        piece
        for piece in stock
        if piece.acquired_on < day - dt.timedelta(days=5)
        and (not plan.categories or piece.category in plan.categories)
    ]
    rail = dice.some(fitting, plan.taken)
    going = dice.shuffled(rail)
    sales: list[Sale] = []
    for date, count in zip(plan.event.dates, plan.sold, strict=True):
        sales += [_sale(dice, date, nth, going.pop()) for nth in range(count)]
    return PastEvent(plan.event, tuple(rail), tuple(sales))


def _sale(dice: Dice, day: dt.date, nth: int, piece: Piece) -> Sale:
    at = dt.datetime.combine(day, dt.time(10, 20)) + dt.timedelta(minutes=25 * nth + dice.below(20))
    method: Method = "cash" if dice.chance(PERCENT_CASH) else "card"
    paid = agreed_price(dice, (piece,), PERCENT_HAGGLED)
    return Sale(at, method, (piece,), paid, note=to_text(piece.tag_code))
