"""An event's settled payments and its rail, added up as far as no rule needs the single line.

PostgreSQL adds them up for a plain result; where every line is wanted, `settled_lines` does. Fees
and taxes that no export tells are rounded payment by payment, so what they are worked out from is
grouped by the amount and every group is exact.
"""

from __future__ import annotations

import datetime as dt
from typing import Literal

import msgspec

from stallkeep.domain.cost_share import CostShare, PricesAndCosts
from stallkeep.domain.event_facts import TakenPiece
from stallkeep.domain.margin_scheme import MarginScheme


class PaidSum(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Settled payments of one day, method and state.

    Attributes:
        day: Day in the shop's zone.
        method: card, cash, online, transfer, other.
        state: matched or set_aside.
        is_income: False for money that is no earning.
        payments: How many they are.
        amount_minor: All that was paid.
        tip_minor: Tips within.
        tax_minor: Tax within, as far as the export tells.
        fee_minor: Fees kept, as the export tells; None: it tells the fee of none of these.
    """

    day: dt.date
    method: str
    state: Literal["matched", "set_aside"]
    is_income: bool
    payments: int
    amount_minor: int
    tip_minor: int
    tax_minor: int
    fee_minor: int | None


class Alike(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Equal amounts of one day from which a fee or a tax is worked out.

    Attributes:
        day: The day.
        method: Of the payments; "" where it does not matter.
        amount_minor: One of them.
        times: How many there are.
    """

    day: dt.date
    method: str = ""
    amount_minor: int
    times: int


class SoldSum(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Pieces sold on one day, those brought back left out.

    Attributes:
        day: Day of their payment.
        lines: Lines of sales; those without a cost are grouped by their price.
        pieces: Pieces on them.
        price_minor: What they brought.
        cost_minor: What they had cost; None where it is not known.
    """

    day: dt.date
    lines: int
    pieces: int
    price_minor: int
    cost_minor: int | None


class PieceSum(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Pieces of one category and price band.

    Attributes:
        category: As in stock.
        band: Number of the price band on the tag, from 0; None without a price.
        is_listed: False for pieces sold without standing on the rail's list.
        taken: Pieces taken.
        sold: Pieces that went, item by item by the surer of count and payments.
    """

    category: str | None
    band: int | None
    is_listed: bool
    taken: int
    sold: int


class RailSum(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """The rail's list in all.

    Attributes:
        taken: Pieces on it.
        uncounted: Those of them that no stock count covers.
        priced: Those with a price above 0.
        priced_minor: Their prices.
    """

    taken: int = 0
    uncounted: int = 0
    priced: int = 0
    priced_minor: int = 0


class Settled(msgspec.Struct, frozen=True, kw_only=True):
    """All that a result needs to know of settled payments, their pieces and the rail.

    Attributes:
        paid: The payments.
        fees: Amounts whose fee is worked out from a schedule.
        taxes: Amounts whose tax is worked out.
        sold: Their pieces.
        margin_scheme: Those under a margin scheme; None when none is.
        costs_sold: Prices and costs of pieces sold whose cost is known.
        costs_taken: The same of the rail.
        rail: The rail's list.
        pieces: Taken and sold by category and price band.
        gone: Pieces that the count of the whole rail misses and no payment is matched to, each
            with the quantity missing.
        home_yet_paid: Tag codes of pieces with a payment that were counted among those home.
    """

    paid: tuple[PaidSum, ...] = ()
    fees: tuple[Alike, ...] = ()
    taxes: tuple[Alike, ...] = ()
    sold: tuple[SoldSum, ...] = ()
    margin_scheme: MarginScheme | None = None
    costs_sold: PricesAndCosts | None = None
    costs_taken: PricesAndCosts | None = None
    rail: RailSum = RailSum()
    pieces: tuple[PieceSum, ...] = ()
    gone: tuple[TakenPiece, ...] = ()
    home_yet_paid: tuple[str, ...] = ()

    @property
    def is_counted(self) -> bool:
        """Whether the stock count covers the whole rail."""
        return self.rail.taken > 0 and self.rail.uncounted == 0

    @property
    def share(self) -> CostShare:
        """Share of cost in price, from the pieces sold, else from the rail."""
        known = self.costs_sold or self.costs_taken
        return known.share() if known else CostShare()
