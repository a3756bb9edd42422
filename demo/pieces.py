"""The stock: about 190 pieces, of which some 50 went at earlier events."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from demo.dice import Dice
from demo.words import LUMPELIO, PRICE_LADDER, RANGES, SHELVORRA, Noun, Range

from stallkeep.domain.tag_codes import ALPHABET, LENGTH, check_symbol, is_valid

FIRST_BOUGHT = dt.date(2025, 7, 1)
LAST_BOUGHT = dt.date(2026, 8, 29)
EURO = 100


@dataclass(frozen=True)
class Piece:
    """One piece of stock; money in cents.

    Attributes:
        tag_code: In canonical form.
        price: On the swing tag.
        floor: The lowest the seller means to take.
        listed: Channel name to the channel's reference, for each listing ever made.
    """

    tag_code: str
    title: str
    category: str
    noun: str
    size: str
    cost: int
    price: int
    floor: int
    acquired_on: dt.date
    listed: dict[str, str]


def make_pieces(dice: Dice) -> list[Piece]:
    """Make the stock, oldest purchase first."""
    ranges = dice.shuffled([each for each in RANGES for _ in range(each.count)])
    span = (LAST_BOUGHT - FIRST_BOUGHT).days
    codes: set[str] = set()
    titles: set[str] = set()
    return [
        _piece(dice, kind, FIRST_BOUGHT + dt.timedelta(span * i // len(ranges)), codes, titles)
        for i, kind in enumerate(ranges)
    ]


def _piece(dice: Dice, kind: Range, day: dt.date, codes: set[str], titles: set[str]) -> Piece:
    noun = dice.pick(kind.nouns)
    price = EURO * dice.pick([p for p in PRICE_LADDER if noun.low <= p <= noun.high])
    return Piece(
        tag_code=_new_code(dice, codes),
        title=_new_title(dice, kind, noun, titles),
        category=kind.category,
        noun=noun.name,
        size=dice.pick(noun.sizes),
        cost=price * dice.between(30, 44) // 100 // 50 * 50,
        price=price,
        floor=-(-price * 80 // 100 // EURO) * EURO,
        acquired_on=day,
        listed=_listed(dice, kind),
    )


def _new_code(dice: Dice, taken: set[str]) -> str:
    while True:
        body = "".join(dice.pick(ALPHABET) for _ in range(LENGTH - 1))
        code = body + check_symbol(body)
        if is_valid(code) and code not in taken:
            taken.add(code)
            return code


def _new_title(dice: Dice, kind: Range, noun: Noun, taken: set[str]) -> str:
    while True:
        title = f"{dice.pick(kind.looks)} {noun.name}, {dice.pick(kind.touches)}"
        if title not in taken:
            taken.add(title)
            return title


def _listed(dice: Dice, kind: Range) -> dict[str, str]:
    listed = {}
    if dice.chance(kind.percent_lumpelio):
        listed[LUMPELIO] = f"A{dice.between(310000, 389999)}"
    if dice.chance(kind.percent_shelvorra):
        listed[SHELVORRA] = f"{dice.between(1000, 9999)}-{dice.between(100, 999)}"
    return listed


def online_price(piece: Piece, channel: str) -> int:
    """What the piece is offered for on *channel*: dearer than at the stall, by about its fee."""
    percent = 112 if channel == LUMPELIO else 115
    return piece.price * percent // 100 // EURO * EURO + 90


def total_price(pieces: list[Piece]) -> int:
    """Sum of the tag prices."""
    return sum(piece.price for piece in pieces)
