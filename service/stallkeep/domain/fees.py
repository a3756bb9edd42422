"""What a channel keeps: from a price to the take-home, line by line, and back.

Rates are whole parts per million (50_000 is 5 %), money is in minor units of the shop's currency.
A schedule says nothing about dates: which one was valid on a day is for the caller to know.
"""

from __future__ import annotations

from bisect import bisect_left
from itertools import pairwise
from typing import Literal

import msgspec

from stallkeep.domain.errors import FeeScheduleError, PriceOutOfReachError
from stallkeep.domain.money import MAXIMUM_MINOR, half_up

MILLION = 1_000_000
HIGHEST_RATE_PPM = 990_000


class Tier(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A rate that begins at an amount.

    Attributes:
        from_minor: First amount of the tier; above 0.
        rate_ppm: Its rate.
    """

    from_minor: int
    rate_ppm: int


class FeePart(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One fee of a schedule: minimum <= rate of the base + fixed <= maximum.

    Attributes:
        name: As the seller knows it ("commission", "card fee").
        kind: "channel" for selling there, "payment" for handling the money.
        base: What the rate is taken of: "price", or "total" with the postage the buyer pays.
        rate_ppm: Rate below the first tier.
        tiers: Further rates, by rising *from_minor*.
        tiers_apply_to: "slice": each tier's rate only to the part of the base inside it;
            "whole": the rate of the tier the base falls in to all of it.
        fixed_minor: Added to every sale.
        minimum_minor: The fee is at least this; None for none.
        maximum_minor: The fee is at most this; None for none.
    """

    name: str
    kind: Literal["channel", "payment"] = "channel"
    base: Literal["price", "total"] = "price"
    rate_ppm: int = 0
    tiers: tuple[Tier, ...] = ()
    tiers_apply_to: Literal["slice", "whole"] = "slice"
    fixed_minor: int = 0
    minimum_minor: int | None = None
    maximum_minor: int | None = None

    def __post_init__(self) -> None:
        rates = [self.rate_ppm, *(tier.rate_ppm for tier in self.tiers)]
        starts = [0, *(tier.from_minor for tier in self.tiers)]
        low, high = self.minimum_minor or 0, self.maximum_minor
        if not all(0 <= rate <= HIGHEST_RATE_PPM for rate in rates):
            raise FeeScheduleError(f"the rate of {self.name!r} must be from 0 to 99 per cent")
        if any(start >= later for start, later in pairwise(starts)):
            raise FeeScheduleError(f"the tiers of {self.name!r} must begin at rising amounts")
        if self.fixed_minor < 0 or low < 0 or (high is not None and high < low):
            raise FeeScheduleError(
                f"the amounts of {self.name!r} must not be negative, nor its minimum above its "
                "maximum"
            )


class Postage(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Who pays for sending the piece.

    Attributes:
        payer: "none" (handed over), "buyer" (pays *cost_minor* on top of the price, the seller
            passes it on) or "seller".
        cost_minor: What sending costs.
    """

    payer: Literal["none", "buyer", "seller"] = "none"
    cost_minor: int = 0

    def __post_init__(self) -> None:
        if self.cost_minor < 0:
            raise FeeScheduleError("postage must not be negative")


class FeeSchedule(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """All that a channel charges for a sale. Plain JSON through msgspec.

    Attributes:
        parts: The fees; none for selling direct.
        postage: Who pays for sending.
        tax_on_fees_ppm: Tax the channel adds to its fees, on their sum.
        returned_on_refund: True when the fees are given back with a refund.

    Raises:
        FeeScheduleError: The fees could reach more than 99 % of a price, so that no price would
            bring anything; or a part contradicts itself.
    """

    parts: tuple[FeePart, ...] = ()
    postage: Postage = Postage()
    tax_on_fees_ppm: int = 0
    returned_on_refund: bool = False

    def __post_init__(self) -> None:
        highest = sum(max(p.rate_ppm, *(t.rate_ppm for t in p.tiers), 0) for p in self.parts)
        if not 0 <= self.tax_on_fees_ppm <= MILLION:
            raise FeeScheduleError("tax on fees must be from 0 to 100 per cent")
        if highest * (MILLION + self.tax_on_fees_ppm) > HIGHEST_RATE_PPM * MILLION:
            raise FeeScheduleError("the fees together must stay below 99 per cent of the price")


class FeeLine(msgspec.Struct, frozen=True, kw_only=True):
    """One line between price and take-home.

    Attributes:
        name: Of the fee, "tax on fees", "postage from the buyer" or "postage paid".
        kind: "channel", "payment", "tax" or "postage".
        amount_minor: Minus takes away from the seller.
    """

    name: str
    kind: Literal["channel", "payment", "tax", "postage"]
    amount_minor: int


class TakeHome(msgspec.Struct, frozen=True, kw_only=True):
    """A price and what is left of it: price + lines = take-home.

    Attributes:
        price_minor: Asked of the buyer, postage apart.
        lines: Every part, in the order of the schedule, then tax, then postage.
        fees_minor: Fees with their tax, as a plus amount.
        take_home_minor: What reaches the seller.
    """

    price_minor: int
    lines: tuple[FeeLine, ...]
    fees_minor: int
    take_home_minor: int


def take_home(schedule: FeeSchedule, price_minor: int) -> TakeHome:
    """Take the fees off a price, each rounded half up to the minor unit.

    Args:
        schedule: The fees.
        price_minor: At least 0.
    """
    lines = [
        FeeLine(name=part.name, kind=part.kind, amount_minor=-fee)
        for part, fee in zip(schedule.parts, _rounded_fees(schedule, price_minor), strict=True)
    ]
    tax = half_up(-sum(line.amount_minor for line in lines) * schedule.tax_on_fees_ppm, MILLION)
    if tax:
        lines.append(FeeLine(name="tax on fees", kind="tax", amount_minor=-tax))
    fees_minor = -sum(line.amount_minor for line in lines)
    lines += _postage_lines(schedule.postage)
    return TakeHome(
        price_minor=price_minor,
        lines=tuple(lines),
        fees_minor=fees_minor,
        take_home_minor=price_minor + sum(line.amount_minor for line in lines),
    )


def fees_of_payment(schedule: FeeSchedule, amount_minor: int) -> int:
    """Tell what is kept of one payment, tax on fees included, as a plus amount.

    A negative amount is a refund: it gives the fees back (minus) or costs nothing, as the
    schedule says.
    """
    fees = sum(_rounded_fees(schedule, abs(amount_minor)))
    fees += half_up(fees * schedule.tax_on_fees_ppm, MILLION)
    if amount_minor < 0:
        return -fees if schedule.returned_on_refund else 0
    return fees


def lowest_price(schedule: FeeSchedule, wanted_minor: int, from_minor: int = 0) -> int:
    """Find the lowest price whose take-home is at least *wanted_minor*, exact to the minor unit.

    Only prices of at least *from_minor* are looked at.

    The take-home does not always rise with the price: a tier that applies to the whole price
    drops it, and rounding makes small dents. Between such tiers the unrounded take-home rises,
    and differs from the rounded one by less than a few minor units, so a bisection on the
    unrounded one finds where to begin looking upward.

    Raises:
        PriceOutOfReachError: No price that a shop can ask brings so much.
    """
    slack = _rounding_slack(schedule)
    starts = [from_minor, *(start for start in _cell_starts(schedule) if start > from_minor)]
    for start, end in zip(starts, [*starts[1:], MAXIMUM_MINOR + 1], strict=True):
        price = start + bisect_left(
            range(start, end),
            wanted_minor * MILLION**2 - slack,
            key=lambda p: _exact_take_home(schedule, p),
        )
        while price < end and _exact_take_home(schedule, price) < wanted_minor * MILLION**2 + slack:
            if take_home(schedule, price).take_home_minor >= wanted_minor:
                return price
            price += 1
        if price < end:
            return price
    raise PriceOutOfReachError("no price brings that much after fees")


def _rounded_fees(schedule: FeeSchedule, price_minor: int) -> list[int]:
    return [half_up(fee, MILLION) for fee in _exact_fees(schedule, price_minor)]


def _exact_fees(schedule: FeeSchedule, price_minor: int) -> list[int]:
    """Each part's fee, unrounded, in millionths of a minor unit."""
    total = price_minor + _postage_from_buyer(schedule.postage)
    return [
        _exact_fee(part, price_minor if part.base == "price" else total) for part in schedule.parts
    ]


def _exact_fee(part: FeePart, base_minor: int) -> int:
    fee = base_minor * part.rate_ppm
    rate_before = part.rate_ppm
    for tier in part.tiers:
        if base_minor < tier.from_minor:
            break
        lifted = base_minor if part.tiers_apply_to == "whole" else base_minor - tier.from_minor
        fee += lifted * (tier.rate_ppm - rate_before)
        rate_before = tier.rate_ppm
    fee += part.fixed_minor * MILLION
    if part.minimum_minor is not None:
        fee = max(fee, part.minimum_minor * MILLION)
    if part.maximum_minor is not None:
        fee = min(fee, part.maximum_minor * MILLION)
    return fee


def _exact_take_home(schedule: FeeSchedule, price_minor: int) -> int:
    """Take-home before any rounding, in millionths of a millionth of a minor unit."""
    fees = sum(_exact_fees(schedule, price_minor)) * (MILLION + schedule.tax_on_fees_ppm)
    postage = sum(line.amount_minor for line in _postage_lines(schedule.postage))
    return (price_minor + postage) * MILLION**2 - fees


def _rounding_slack(schedule: FeeSchedule) -> int:
    """How far rounding can move a take-home, in the unit of `_exact_take_home`."""
    half = MILLION // 2
    return len(schedule.parts) * half * (MILLION + schedule.tax_on_fees_ppm) + half * MILLION


def _cell_starts(schedule: FeeSchedule) -> list[int]:
    """Prices from which the unrounded take-home rises until the next one."""
    postage = _postage_from_buyer(schedule.postage)
    starts = {0}
    for part in schedule.parts:
        if part.tiers_apply_to == "whole":
            shift = postage if part.base == "total" else 0
            starts |= {max(tier.from_minor - shift, 0) for tier in part.tiers}
    return sorted(starts)


def _postage_from_buyer(postage: Postage) -> int:
    return postage.cost_minor if postage.payer == "buyer" else 0


def _postage_lines(postage: Postage) -> list[FeeLine]:
    lines = []
    if received := _postage_from_buyer(postage):
        lines.append(FeeLine(name="postage from the buyer", kind="postage", amount_minor=received))
    if postage.payer != "none" and postage.cost_minor:
        lines.append(FeeLine(name="postage paid", kind="postage", amount_minor=-postage.cost_minor))
    return lines
