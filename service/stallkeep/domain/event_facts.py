"""What is known about an event: the input of its result.

Money is in minor units of one currency. A share of a whole is in parts per million. The lines of
takings are disjoint: one line per customer's payment, whichever evidence tells of it. A sale rung
up at the stall and the card payment that paid for it are one line, never two; a day's cash total
is not a line (see `EventDay`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Literal, TypeAlias

import msgspec

from stallkeep.domain.cost_split import PartOf
from stallkeep.domain.fees import FeeSchedule
from stallkeep.domain.tax import TaxSettings
from stallkeep.domain.trips import Trip
from stallkeep_importers.contract import CostKind

TakingsState: TypeAlias = Literal["matched", "proposed", "unmatched", "set_aside"]


class SoldPiece(msgspec.Struct, frozen=True, kw_only=True):
    """A piece that a matched payment was for.

    Attributes:
        item_id: Id of the item.
        price_minor: What it brought, for all of *quantity*: its part of the payment, as the shop
            states prices (without tax where that is added at the till).
        cost_minor: What all of *quantity* cost the shop: the piece's own cost for a one-off,
            average cost x quantity for pieces held in number; None when it is not known.
        quantity: Pieces, at least 1.
        category: As in stock.
        margin_scheme: True when the shop recorded the piece as second-hand under a margin
            scheme: its price is left out of the tax worked out here.
        is_returned: True when it came back: it counts neither as sold nor as a cost. The money
            given back is a `Refund`.
        by_average: True when the item is held in batches, so that its cost is their average.
    """

    item_id: str
    price_minor: int
    cost_minor: int | None
    quantity: int = 1
    category: str | None = None
    margin_scheme: bool = False
    is_returned: bool = False
    by_average: bool = False


class Possibility(msgspec.Struct, frozen=True, kw_only=True):
    """One explanation of a payment that is not settled.

    Attributes:
        probability: From 0 to 1; all of a payment's sum to at most 1, the rest is "something
            else".
        pieces: Number of pieces it speaks of; 0 for none from stock.
        cost_minor: Cost of those pieces; None when it is not known.
    """

    probability: float
    pieces: int
    cost_minor: int | None


class Takings(msgspec.Struct, frozen=True, kw_only=True):
    """What one customer paid.

    Attributes:
        id: Id of the transaction (or of the sale, where there is no transaction).
        day: Day in the shop's zone.
        method: card, cash, online, transfer, other.
        amount_minor: All that was paid, tip and tax included; not negative.
        state: matched, proposed, unmatched or set_aside.
        tip_minor: Tip within the amount.
        tax_minor: Tax within the amount where the export tells; None has it worked out.
        fee_minor: Fee kept by the provider where the export tells; None has it worked out.
        pieces: What it was for, when matched; their prices sum to at most the amount less tip.
        possibilities: What it may have been for, when not matched.
        is_income: False for money that is no earning (set aside as a test, or paid back in
            another way): it stands in the takings and is taken off again.
    """

    id: str
    day: dt.date
    method: str
    amount_minor: int
    state: TakingsState
    tip_minor: int = 0
    tax_minor: int | None = None
    fee_minor: int | None = None
    pieces: tuple[SoldPiece, ...] = ()
    possibilities: tuple[Possibility, ...] = ()
    is_income: bool = True


class Refund(msgspec.Struct, frozen=True, kw_only=True):
    """Money given back: a refund, the refunded part of a payment's own row, or a dispute lost.

    Attributes:
        id: Id of the transaction.
        day: Day it was given back.
        method: As for takings.
        amount_minor: Negative (a dispute won back is positive).
        tax_minor: Tax within the amount, signed like it; None has it worked out.
        fee_minor: Minus when the provider gave fee back; None has it worked out.
        of: Id of the payment it gives back; None where that is not known.
    """

    id: str
    day: dt.date
    method: str
    amount_minor: int
    tax_minor: int | None = None
    fee_minor: int | None = None
    of: str | None = None


class Cost(msgspec.Struct, frozen=True, kw_only=True):
    """A cost of the event.

    Attributes:
        id: Id of the cost.
        kind: pitch_fee, travel, parking, food, lodging, helpers, supplies, other; or "fees" for
            a provider's fee that belongs to no payment.
        amount_minor: Plus is money spent, tax included.
        tax_minor: Tax within it.
        day: The day it belongs to; None shares it over the days, equally, by largest remainder.
        trip: The distance it was given as, if it was.
        part_of: The cost of several events that it is a part of, if it is.
    """

    id: str
    kind: CostKind | Literal["fees"]
    amount_minor: int
    tax_minor: int = 0
    day: dt.date | None = None
    trip: Trip | None = None
    part_of: PartOf | None = None


class EventDay(msgspec.Struct, frozen=True, kw_only=True):
    """One day of the event and its cash box.

    Attributes:
        day: The date.
        open_minutes: How long the stall was open; None when not entered.
        pitch_fee_minor: Pitch fee of this day.
        float_minor: Cash in the box at opening; None when not entered.
        counted_cash_minor: Cash in the box at closing; None when not counted.
        taken_out_minor: Cash that left the box in between, other than refunds: costs paid from
            it, money put away; less what was put in.
        every_cash_sale_noted: True when each cash sale was keyed in, so that a difference is
            over/short. False: what the box holds beyond the noted lines is unmatched takings.
        is_closed: True when the day is over and its sales are in.
    """

    day: dt.date
    open_minutes: int | None = None
    pitch_fee_minor: int = 0
    float_minor: int | None = None
    counted_cash_minor: int | None = None
    taken_out_minor: int = 0
    every_cash_sale_noted: bool = False
    is_closed: bool = True


class TakenPiece(msgspec.Struct, frozen=True, kw_only=True):
    """An item on the rail.

    Attributes:
        item_id: Id of the item.
        quantity: Pieces taken, at least 1.
        price_minor: Price on the tag of one; None when it had none.
        cost_minor: Cost of one; None when not known.
        category: As in stock.
        counted_home: Pieces that the stock count found; None when it was not counted.
        sold_elsewhere: Pieces sold away from the event since it began: they are not missing.
    """

    item_id: str
    quantity: int = 1
    price_minor: int | None = None
    cost_minor: int | None = None
    category: str | None = None
    counted_home: int | None = None
    sold_elsewhere: int = 0


class EventFacts(msgspec.Struct, frozen=True, kw_only=True):
    """All that the result of an event is made from.

    Attributes:
        currency: ISO 4217 code of every amount.
        days: Days of the event, by date, each once.
        takings: Payments, any order, ids unique.
        refunds: Money given back.
        costs: Costs, the pitch fee of single days apart.
        pitch_fee_minor: Pitch fee for the whole event, beside those of its days.
        rail: What was taken.
        fee_schedules: Method ("card") to the schedule used where an export tells no fee.
        tax: How the shop deals with sales tax.
        reclaims_tax: True takes the tax within costs off them.
        own_minutes: Own time by kind: preparing, travelling, selling, packing.
        price_bands_minor: Rising amounts at which price bands begin, the first band beginning
            at 0 apart; None for 10, 25, 50 and 100 in money.
    """

    currency: str
    days: tuple[EventDay, ...] = ()
    takings: tuple[Takings, ...] = ()
    refunds: tuple[Refund, ...] = ()
    costs: tuple[Cost, ...] = ()
    pitch_fee_minor: int = 0
    rail: tuple[TakenPiece, ...] = ()
    fee_schedules: Mapping[str, FeeSchedule] = msgspec.field(default_factory=dict)
    tax: TaxSettings = TaxSettings()
    reclaims_tax: bool = False
    own_minutes: Mapping[str, int] = msgspec.field(default_factory=dict)
    price_bands_minor: tuple[int, ...] | None = None

    @property
    def is_counted(self) -> bool:
        """Whether the stock count covers the whole rail."""
        return bool(self.rail) and all(piece.counted_home is not None for piece in self.rail)
