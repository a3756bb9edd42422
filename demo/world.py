"""Everything that happened, from one seed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from demo.calendar_of_events import HARBOUR_FAIR
from demo.dice import Dice
from demo.earlier import PLANS, PastEvent, hold_earlier
from demo.fair import RESTOCK_DAY, Rail, hold_fair
from demo.online import Listing, Order, earlier_orders, later_orders, listings
from demo.pieces import Piece, make_pieces
from demo.sales import Sale
from demo.words import LUMPELIO, SHELVORRA

SEED = "a wet Saturday at the harbour"
ON_RAIL_FIRST = 80
ON_RAIL_LATER = 10


@dataclass(frozen=True)
class World:
    """The invented shop's truth.

    Attributes:
        pieces: All stock, oldest purchase first.
        earlier: The events that are over.
        rail: What was taken to the fair.
        sales: Every payment at the fair.
        orders: Every order on the resale channels, by channel.
        listings: Every listing, by channel.
        sold_twice: The piece that went at the stall and online.
        sold_from_rail: The piece a channel sold while it hung at the stall.
    """

    pieces: list[Piece]
    earlier: list[PastEvent]
    rail: Rail
    sales: list[Sale]
    orders: dict[str, list[Order]]
    listings: dict[str, list[Listing]]
    sold_twice: Piece
    sold_from_rail: Piece

    @property
    def home(self) -> list[Piece]:
        """Pieces of the rail that came home and stayed; what a right count would list."""
        gone = {piece.tag_code for sale in self.sales for piece in sale.pieces}
        back = {p.tag_code for sale in self.sales if sale.refunded_at for p in sale.pieces}
        gone = (gone - back) | {self.sold_from_rail.tag_code}
        return [piece for piece in self.rail.pieces if piece.tag_code not in gone]

    @property
    def left(self) -> list[Piece]:
        """Everything still there on the morning after: what a coming event can be stocked from."""
        gone = {p.tag_code for event in self.earlier for sale in event.sales for p in sale.pieces}
        gone |= {order.piece.tag_code for each in self.orders.values() for order in each}
        on_rail = {piece.tag_code for piece in self.rail.pieces}
        home = {piece.tag_code for piece in self.home}
        gone |= on_rail - home
        return [piece for piece in self.pieces if piece.tag_code not in gone]


def make_world() -> World:
    """Let everything happen."""
    dice = Dice(SEED)
    pieces = make_pieces(dice)
    stock = list(pieces)
    earlier: list[PastEvent] = []
    for plan in PLANS:
        earlier.append(hold_earlier(dice, plan, stock))
        stock = _without(stock, _sold(earlier[-1].sales))
    orders = {}
    for channel in (LUMPELIO, SHELVORRA):
        orders[channel] = earlier_orders(dice, channel, stock)
        stock = _without(stock, [order.piece for order in orders[channel]])
    shown = _listings(pieces, earlier, orders)
    rail = _pack(dice, stock)
    sold_from_rail = next(p for p in rail.first if LUMPELIO in p.listed)
    sales = hold_fair(dice, rail, [sold_from_rail])
    sold_twice = _sold_twice(sales)
    left = _without(stock, list(rail.pieces))
    orders[LUMPELIO] += later_orders(dice, LUMPELIO, left, sold_from_rail, None)
    left = _without(left, [order.piece for order in orders[LUMPELIO]])
    orders[SHELVORRA] += later_orders(dice, SHELVORRA, left, None, sold_twice)
    return World(pieces, earlier, rail, sales, orders, shown, sold_twice, sold_from_rail)


def _sold(sales: tuple[Sale, ...]) -> list[Piece]:
    return [piece for sale in sales for piece in sale.pieces]


def _without(stock: list[Piece], gone: list[Piece]) -> list[Piece]:
    codes = {piece.tag_code for piece in gone}
    return [piece for piece in stock if piece.tag_code not in codes]


def _pack(dice: Dice, stock: list[Piece]) -> Rail:
    """Choose what to take: a bit of everything; some of it is fetched for the last day."""
    taken = dice.some(stock, ON_RAIL_FIRST + ON_RAIL_LATER)
    later = dice.some(taken, ON_RAIL_LATER)
    return Rail(tuple(_without(taken, later)), tuple(later))


def _sold_twice(sales: list[Sale]) -> Piece:
    """The piece of the last day's marked sale; see `demo.fair.SOLD_TWICE`."""
    last_day = HARBOUR_FAIR.dates[RESTOCK_DAY]
    return next(
        sale.pieces[0]
        for sale in reversed(sales)
        if sale.at.date() == last_day and sale.pieces and SHELVORRA in sale.pieces[0].listed
    )


def _listings(
    pieces: list[Piece], earlier: list[PastEvent], orders: dict[str, list[Order]]
) -> dict[str, list[Listing]]:
    gone: dict[str, dt.date | Order] = {
        piece.tag_code: event.event.dates[-1] for event in earlier for piece in _sold(event.sales)
    }
    gone.update({o.piece.tag_code: o for each in orders.values() for o in each})
    return {channel: listings(channel, pieces, gone) for channel in (LUMPELIO, SHELVORRA)}
