"""What a reconciliation is given.

Ids are text (a UUID's canonical form); money is in minor units of the shop's currency; days are
dates in the shop's zone; moments carry a zone. A set of pieces is a tuple of item ids in which an
id stands once per piece, so two of the same handmade cup are the id twice.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Literal

import msgspec

from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.pieces import RailPiece
from stallkeep.domain.matching.rulings import PieceRuling, Ruling


class RingUp(msgspec.Struct, frozen=True, kw_only=True):
    """A sale entered at the stall, pieces and price together.

    Attributes:
        ring_up_id: Its id.
        item_ids: Pieces sold.
        total_minor: What was asked for all of them.
        occurred_on: Day.
        occurred_at: Moment by the device's clock.
        method: card, cash, …
    """

    ring_up_id: str
    item_ids: tuple[str, ...]
    total_minor: int
    occurred_on: dt.date
    occurred_at: dt.datetime | None = None
    method: str | None = None


class Stub(msgspec.Struct, frozen=True, kw_only=True):
    """The kept part of a sold piece's tag.

    Attributes:
        code: Tag code as read.
        day: Day it was kept.
        position: Place in the order of that day, from 0; None when the order is not known.
        price_minor: Price paid, if somebody wrote it on.
    """

    code: str
    day: dt.date
    position: int | None = None
    price_minor: int | None = None


class CashTotal(msgspec.Struct, frozen=True, kw_only=True):
    """Cash sales of one day by the box: lines of a tally included.

    Attributes:
        day: Day.
        total_minor: Sum of cash taken for pieces.
    """

    day: dt.date
    total_minor: int


class Habits(msgspec.Struct, frozen=True, kw_only=True):
    """What has been learned about how this shop sells.

    Attributes:
        learned: Habit name to the weight of evidence seen so far (expected counts), added to
            the priors of ``habits.py``. Empty for a new shop. Plain JSON; keep it per shop.
        events: Events it was learned from.
    """

    learned: Mapping[str, float] = {}
    events: int = 0


class Evidence(msgspec.Struct, frozen=True, kw_only=True):
    """Everything known about one event, or one channel and period.

    Attributes:
        scope: "event" or "channel".
        pieces: What may have been sold.
        lines: Money lines, any order.
        days: Days of the event; empty when not known.
        unit_minor: Minor units in one unit of the currency (100 for EUR, 1 for JPY).
        rulings: People's words about lines.
        piece_rulings: People's words about pieces.
        ring_ups: Sales entered at the stall.
        stubs: Kept stubs.
        stubs_kept_on: Days on which stubs were kept; None means the days of *stubs*.
        cash_totals: Cash per day.
        returned_of: Transaction ids whose sale a person said pieces came back from.
        habits: What was learned before.
    """

    scope: Literal["event", "channel"] = "event"
    pieces: tuple[RailPiece, ...] = ()
    lines: tuple[MoneyLine, ...] = ()
    days: tuple[dt.date, ...] = ()
    unit_minor: int = 100
    rulings: tuple[Ruling, ...] = ()
    piece_rulings: tuple[PieceRuling, ...] = ()
    ring_ups: tuple[RingUp, ...] = ()
    stubs: tuple[Stub, ...] = ()
    stubs_kept_on: tuple[dt.date, ...] | None = None
    cash_totals: tuple[CashTotal, ...] = ()
    returned_of: tuple[str, ...] = ()
    habits: Habits = Habits()


class Budget(msgspec.Struct, frozen=True, kw_only=True):
    """How much work a run may do; in steps, not seconds, so that every machine answers alike.

    Attributes:
        effort: Multiple of the usual number of sampling sweeps.
    """

    effort: float = 1.0
