"""What really happened at a stall: the words of it, and how a price is agreed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from demo.dice import Dice
from demo.pieces import EURO, Piece, total_price

from stallkeep.domain.money import apportion

Method = Literal["card", "cash"]
What = Literal["sale", "untagged", "not_a_sale"]


@dataclass(frozen=True)
class Sale:
    """One customer paying once; money in cents.

    Attributes:
        at: Local time.
        pieces: The pieces, empty when none of the stock was sold.
        paid: For the pieces, tip apart.
        note: What was keyed in or scribbled beside the amount.
        tried_before: A declined try of the same amount came first.
        refunded_at: The customer brought the pieces back then.
        forgotten: A cash sale that never made it into the tally.
    """

    at: dt.datetime
    method: Method
    pieces: tuple[Piece, ...]
    paid: int
    what: What = "sale"
    tip: int = 0
    note: str = ""
    tried_before: bool = False
    refunded_at: dt.datetime | None = None
    forgotten: bool = False

    @property
    def amount(self) -> int:
        """What the customer paid, tip included."""
        return self.paid + self.tip

    @property
    def shares(self) -> list[int]:
        """What each piece brought; a bundle's price is shared out by tag prices."""
        return apportion(self.paid, [piece.price for piece in self.pieces]) if self.pieces else []


def agreed_price(dice: Dice, pieces: tuple[Piece, ...], percent_haggled: int) -> int:
    """Agree on what is paid: the tag, or rounder and lower; never under the floor prices."""
    asked = total_price(list(pieces))
    step = 5 * EURO if asked >= 30 * EURO else EURO
    if len(pieces) > 1:
        rounded = (asked - 2 * EURO) // (5 * EURO) * 5 * EURO
    elif dice.chance(percent_haggled):
        rounded = (asked - EURO) // step * step
    else:
        return asked
    return max(rounded, sum(piece.floor for piece in pieces))


def title_words(dice: Dice, piece: Piece) -> str:
    """Two or three words of the title, as somebody in a hurry would key them."""
    look, _, rest = piece.title.partition(",")[0].partition(" ")
    last = rest.split()[-1]
    return dice.pick((f"{look} {last}", rest, f"{look[:4]} {last}", last)).lower()
