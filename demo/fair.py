"""The harbour fair as it really went: a good Friday, a wet Saturday, a good Sunday."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

from demo.calendar_of_events import HARBOUR_FAIR, Day
from demo.dice import Dice
from demo.pieces import Piece
from demo.sales import Method, Sale, agreed_price, title_words
from demo.words import CHATTER, SHELVORRA

from stallkeep.domain.tag_codes import ALPHABET, to_text

SALES_PER_DAY = (18, 6, 20)
PERCENT_HAGGLED = (25, 55, 30)
PERCENT_CASH = 32
RESTOCK_DAY = 2

# (day, nth sale of that day), both from 0
BUNDLES = {(0, 4): 2, (0, 13): 3, (2, 3): 2, (2, 10): 3, (2, 16): 2}
TIPS = {(0, 8): 200, (2, 7): 150}
DECLINED_FIRST = (0, 6)
BROUGHT_BACK = (0, 2)
FORGOTTEN = (2, 6)
SOLD_TWICE = (2, 14)
CODE_NOTED = {(0, 1), (0, 9), (1, 4), (2, 2)}
CODE_SLIPPED = (2, 12)
BY_CARD = {*TIPS, DECLINED_FIRST, BROUGHT_BACK, SOLD_TWICE, *CODE_NOTED, CODE_SLIPPED}
SINGLE_WOOL = {DECLINED_FIRST, BROUGHT_BACK}


@dataclass(frozen=True)
class Rail:
    """The pieces taken to the fair, and which of them were put out only on the last day."""

    first: tuple[Piece, ...]
    restocked: tuple[Piece, ...]

    @property
    def pieces(self) -> tuple[Piece, ...]:
        return self.first + self.restocked


@dataclass
class _Stall:
    """Who is still on the rail while the days go by."""

    dice: Dice
    left: list[Piece]

    def take(self, count: int, category: str | None = None, channel: str = "") -> tuple[Piece, ...]:
        fitting = [
            piece
            for piece in self.left
            if (category is None or piece.category == category)
            and (not channel or channel in piece.listed)
        ]
        taken = self.dice.some(fitting, count)
        self.left = [piece for piece in self.left if piece not in taken]
        return tuple(taken)


def hold_fair(dice: Dice, rail: Rail, kept_back: list[Piece]) -> list[Sale]:
    """Let the three days happen.

    Args:
        dice: Chance.
        rail: What was taken.
        kept_back: Pieces of the rail that nobody at the stall buys, since a channel sells them.

    Returns:
        Every payment, earliest first.
    """
    stall = _Stall(dice, [piece for piece in rail.first if piece not in kept_back])
    sales: list[Sale] = []
    for nth_day, day in enumerate(HARBOUR_FAIR.days):
        if nth_day == RESTOCK_DAY:
            stall.left += rail.restocked
        times = _moments(dice, day, SALES_PER_DAY[nth_day])
        sales += [_sale(stall, (nth_day, nth), at) for nth, at in enumerate(times)]
    return sorted([*sales, *_no_stock()], key=lambda sale: sale.at)


def _moments(dice: Dice, day: Day, count: int) -> list[dt.datetime]:
    opens = dt.datetime.combine(day.day, dt.time.fromisoformat(day.opens))
    closes = dt.datetime.combine(day.day, dt.time.fromisoformat(day.closes))
    minutes = int((closes - opens).total_seconds()) // 60 - 20
    slot = minutes // count
    return [
        opens + dt.timedelta(minutes=8 + slot * i + dice.below(slot - 2), seconds=dice.below(60))
        for i in range(count)
    ]


def _sale(stall: _Stall, place: tuple[int, int], at: dt.datetime) -> Sale:
    dice = stall.dice
    pieces = _chosen(stall, place)
    plain = place in SINGLE_WOOL or place == FORGOTTEN
    sale = Sale(
        at=at,
        method="cash" if place == FORGOTTEN else _method(dice, place),
        pieces=pieces,
        paid=agreed_price(dice, pieces, 0 if plain else PERCENT_HAGGLED[place[0]]),
        tip=TIPS.get(place, 0),
        tried_before=place == DECLINED_FIRST,
        forgotten=place == FORGOTTEN,
        note=_note(dice, place, pieces),
    )
    back_at = dt.datetime.combine(HARBOUR_FAIR.dates[2], dt.time(11, 21, 40))
    return replace(sale, refunded_at=back_at) if place == BROUGHT_BACK else sale


def _chosen(stall: _Stall, place: tuple[int, int]) -> tuple[Piece, ...]:
    if place in SINGLE_WOOL:
        return stall.take(1, "Knitwear")
    if place == FORGOTTEN:
        return stall.take(1, "Kitchen ceramics")
    if place == SOLD_TWICE:
        return stall.take(1, channel=SHELVORRA)
    return stall.take(BUNDLES.get(place, 1))


def _method(dice: Dice, place: tuple[int, int]) -> Method:
    return "cash" if dice.chance(PERCENT_CASH) and place not in BY_CARD else "card"


def _note(dice: Dice, place: tuple[int, int], pieces: tuple[Piece, ...]) -> str:
    if place in CODE_NOTED:
        return dice.pick((to_text, str.lower))(pieces[0].tag_code)
    if place == CODE_SLIPPED:
        return to_text(with_slip(dice, pieces[0].tag_code))
    if place == FORGOTTEN or not dice.chance(45):
        return ""
    if dice.chance(25):
        return dice.pick(CHATTER)
    return " + ".join(title_words(dice, piece) for piece in pieces[:2])


def with_slip(dice: Dice, code: str) -> str:
    """Misread one symbol of a code, as happens by hand; the check symbol no longer fits."""
    place = dice.below(len(code) - 1)
    other = dice.pick([symbol for symbol in ALPHABET if symbol != code[place]])
    return code[:place] + other + code[place + 1 :]


def _no_stock() -> list[Sale]:
    """A piece that never had a tag, and a mending job paid for at the stall."""
    friday, _, sunday = HARBOUR_FAIR.dates
    tin = dt.datetime.combine(friday, dt.time(15, 2, 11))
    job = dt.datetime.combine(sunday, dt.time(12, 55, 3))
    return [
        Sale(tin, "card", (), 600, what="untagged", note="button tin"),
        Sale(job, "card", (), 2340, what="not_a_sale"),
    ]
