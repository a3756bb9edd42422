"""The two resale channels: what is listed there, and what they sold from August on."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from demo.dice import Dice
from demo.pieces import Piece, online_price
from demo.words import LUMPELIO, SHELVORRA

LISTINGS_EXPORTED_ON = dt.date(2026, 9, 9)
FIRST_SALES_EXPORT = dt.date(2026, 9, 9)
SECOND_SALES_EXPORT = dt.date(2026, 9, 14)
OVERLAP_FROM = dt.date(2026, 9, 1)
GIVEN_BACK_LATER = 500
AUGUST = dt.date(2026, 8, 1)
SATURDAY_NIGHT = dt.datetime.combine(dt.date(2026, 9, 12), dt.time(21, 14))
SUNDAY_NIGHT = dt.datetime.combine(dt.date(2026, 9, 13), dt.time(20, 37))

SALES_BEFORE = {LUMPELIO: 10, SHELVORRA: 7}
SALES_AFTER = {LUMPELIO: 4, SHELVORRA: 3}

ListingState = Literal["live", "ended", "sold"]


@dataclass(frozen=True)
class ChannelFee:
    """What a channel keeps of a price: parts per million, a fixed part, a minimum, in cents."""

    rate_ppm: int
    fixed: int = 0
    minimum: int = 0

    def fee(self, price: int) -> int:
        return max((price * self.rate_ppm + 500_000) // 1_000_000 + self.fixed, self.minimum)


FEES = {LUMPELIO: ChannelFee(85_000, fixed=40), SHELVORRA: ChannelFee(115_000, minimum=150)}


@dataclass(frozen=True)
class Order:
    """One order on a channel; money in cents.

    Attributes:
        number: The channel's number of it.
        at: Local time.
        postage: What the buyer paid for sending.
        postage_cost: What the label cost, known once it is bought.
        given_back: A part the seller gave back later.
    """

    channel: str
    number: str
    at: dt.datetime
    piece: Piece
    price: int
    postage: int
    postage_cost: int
    given_back: int = 0

    @property
    def amount(self) -> int:
        """What the buyer paid."""
        return self.price + self.postage

    @property
    def fee(self) -> int:
        return FEES[self.channel].fee(self.price)


@dataclass(frozen=True)
class Listing:
    """One listing as the channel's export shows it."""

    channel: str
    piece: Piece
    price: int
    state: ListingState
    listed_on: dt.date
    ended_on: dt.date | None


def earlier_orders(dice: Dice, channel: str, stock: list[Piece]) -> list[Order]:
    """Sell some pieces of *stock* in August and early September."""
    listed = [piece for piece in stock if channel in piece.listed and piece.acquired_on < AUGUST]
    pieces = dice.shuffled(listed)[: SALES_BEFORE[channel]]
    days = (FIRST_SALES_EXPORT - AUGUST).days
    moments = [
        dt.datetime.combine(AUGUST, dt.time(8)) + dt.timedelta(days=days * (i + 1) // len(pieces))
        for i in range(len(pieces))
    ]
    return [
        _order(dice, channel, nth, piece, at + dt.timedelta(minutes=dice.below(13 * 60)))
        for nth, (piece, at) in enumerate(zip(pieces, moments, strict=True))
    ]


def later_orders(
    dice: Dice, channel: str, stock: list[Piece], on_rail: Piece | None, sold_twice: Piece | None
) -> list[Order]:
    """Sell on during and after the fair.

    Args:
        dice: Chance.
        channel: Its name.
        stock: Pieces that stayed at home.
        on_rail: A piece of the rail that this channel sells on Saturday night.
        sold_twice: A piece that went at the stall on Sunday and whose listing was still live.
    """
    listed = [piece for piece in stock if channel in piece.listed]
    pieces = dice.shuffled(listed)[: SALES_AFTER[channel]]
    start = dt.datetime.combine(dt.date(2026, 9, 11), dt.time(7, 30))
    timed = [
        (start + dt.timedelta(hours=22 * nth, minutes=dice.below(300)), piece)
        for nth, piece in enumerate(pieces)
    ]
    timed += [(SATURDAY_NIGHT, on_rail)] if on_rail else []
    timed += [(SUNDAY_NIGHT, sold_twice)] if sold_twice else []
    return [
        _order(dice, channel, 40 + nth, piece, at)
        for nth, (at, piece) in enumerate(sorted(timed, key=lambda pair: pair[0]))
    ]


def _order(dice: Dice, channel: str, nth: int, piece: Piece, at: dt.datetime) -> Order:
    first, step = (704_100, 37) if channel == LUMPELIO else (51_200, 13)
    heavy = piece.category == "Kitchen ceramics"
    return Order(
        channel=channel,
        number=f"{'L' if channel == LUMPELIO else 'SO-'}{first + step * nth}",
        at=at,
        piece=piece,
        price=online_price(piece, channel),
        postage=690 if heavy else 490,
        postage_cost=dice.pick((630, 690)) if heavy else 455,
    )


def listings(channel: str, pieces: list[Piece], gone: dict[str, dt.date | Order]) -> list[Listing]:
    """Show every listing of *channel* on the evening before the van was packed.

    Args:
        channel: Its name.
        pieces: All that the channel ever listed.
        gone: Tag code to the order here that took the piece, or the day it went elsewhere.
    """
    return [
        _listing(channel, piece, gone.get(piece.tag_code))
        for piece in pieces
        if channel in piece.listed and piece.acquired_on < LISTINGS_EXPORTED_ON
    ]


def _listing(channel: str, piece: Piece, gone: dt.date | Order | None) -> Listing:
    state: ListingState = "live"
    ended = None
    if isinstance(gone, Order):
        here = gone.channel == channel
        state, ended = ("sold" if here else "ended"), gone.at.date()
    elif gone is not None:
        state, ended = "ended", gone
    return Listing(
        channel=channel,
        piece=piece,
        price=online_price(piece, channel),
        state=state,
        listed_on=piece.acquired_on + dt.timedelta(days=9),
        ended_on=ended,
    )
