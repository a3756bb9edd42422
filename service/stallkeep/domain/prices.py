"""Prices of an item on every channel and event, from its base price.

A price is made in this order: where it starts, mark-up, offset, share of a pitch fee, price
point, floor. What is left of it is fees, tax and cost away.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

import msgspec

from stallkeep.domain.errors import PriceRuleError
from stallkeep.domain.fees import FeeSchedule, TakeHome, lowest_price, take_home
from stallkeep.domain.money import half_up
from stallkeep.domain.price_points import PricePoints, to_point
from stallkeep.domain.tax import TaxSettings, tax_in_price

MILLION = 1_000_000


class PitchRecovery(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A pitch fee that the pieces expected to sell have to earn back.

    Attributes:
        pitch_fee_minor: For the whole event; not negative.
        expected_pieces: At least 1.
    """

    pitch_fee_minor: int
    expected_pieces: int

    def __post_init__(self) -> None:
        if self.pitch_fee_minor < 0 or self.expected_pieces < 1:
            raise PriceRuleError("a pitch fee is recovered over at least one piece")


class PriceRule(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a channel's price follows. Plain JSON through msgspec.

    Attributes:
        starts_at: "base" (the item's own price), "price_of" (the price on channel *of*), or
            "take_home_of" (the lowest price here that leaves what channel *of* leaves).
        of: Id of the other channel.
        markup_ppm: Share added (minus: taken off), in parts per million.
        offset_minor: Amount added (minus: taken off).
        recovers: Pitch fee to be earned back: its share per piece is added, fees on it included.
        points: Price points of this channel; None for the shop's.
    """

    starts_at: Literal["base", "price_of", "take_home_of"] = "base"
    of: str | None = None
    markup_ppm: int = 0
    offset_minor: int = 0
    recovers: PitchRecovery | None = None
    points: PricePoints | None = None


class ChannelTerms(msgspec.Struct, frozen=True, kw_only=True):
    """A channel, or an event, as far as prices need it.

    Attributes:
        id: Its id, as *of* in a rule names it.
        name: For people.
        rule: How its price follows.
        fees: Its schedule on the day in question.
    """

    id: str
    name: str
    rule: PriceRule = PriceRule()
    fees: FeeSchedule = FeeSchedule()


class PricedItem(msgspec.Struct, frozen=True, kw_only=True):
    """An item to be priced.

    Attributes:
        id: Its id.
        base_minor: Its base price.
        cost_minor: What it cost; None when not known.
        floor_minor: Never to be sold under this; None for none.
    """

    id: str
    base_minor: int
    cost_minor: int | None = None
    floor_minor: int | None = None


class PriceQuote(msgspec.Struct, frozen=True, kw_only=True):
    """An item's price on one channel and what is left of it.

    Attributes:
        channel_id: The channel or event.
        channel: Its name.
        price_minor: The price to ask.
        take_home: Fees and postage, line by line.
        tax_minor: Sales tax within the price.
        margin_minor: take-home - tax - cost; None when the cost is not known.
        margin_ppm: The margin as a share of the price; None without either.
        is_at_floor: True when the floor price lifted it.
    """

    channel_id: str
    channel: str
    price_minor: int
    take_home: TakeHome
    tax_minor: int
    margin_minor: int | None
    margin_ppm: int | None
    is_at_floor: bool


class PriceChange(msgspec.Struct, frozen=True, kw_only=True):
    """One line of a preview: an item's price now and by the rule.

    Attributes:
        item_id: The item.
        old_minor: Price now; None when it has none.
        new_minor: Price by the rule.
        change_minor: new - old; None without an old price.
    """

    item_id: str
    old_minor: int | None
    new_minor: int
    change_minor: int | None


def quotes(
    item: PricedItem,
    channels: Sequence[ChannelTerms],
    points: PricePoints,
    tax: TaxSettings,
) -> tuple[PriceQuote, ...]:
    """Price an item on every channel, in the order of *channels*.

    Raises:
        PriceRuleError: A rule names a channel that is not there, or rules go in a circle.
        PriceOutOfReachError: A wanted take-home is beyond any price.
    """
    known = {channel.id: channel for channel in channels}
    return tuple(_quote(item, channel, known, points, tax) for channel in channels)


def price_changes(
    items: Iterable[tuple[PricedItem, int | None]],
    channel: ChannelTerms,
    others: Sequence[ChannelTerms],
    points: PricePoints,
) -> tuple[PriceChange, ...]:
    """Preview what a rule does to a rail, in the order of *items*.

    Args:
        items: Each with its present price, None where it has none.
        channel: The channel or event whose rule is applied.
        others: Channels its rule may name.
        points: The shop's price points.

    Raises:
        PriceRuleError: As for `quotes`.
    """
    known = {other.id: other for other in others} | {channel.id: channel}
    changes = []
    for item, old in items:
        new = _price(item, channel, known, points, ())
        change = None if old is None else new - old
        changes.append(
            PriceChange(item_id=item.id, old_minor=old, new_minor=new, change_minor=change)
        )
    return tuple(changes)


def pitch_share(recovery: PitchRecovery) -> int:
    """Share of the pitch fee that each piece has to earn, rounded up so that all of it comes in."""
    return -(-recovery.pitch_fee_minor // recovery.expected_pieces)


def marked_up(price_minor: int, markup_ppm: int) -> int:
    """Add a mark-up, half up: 62.00 at 15 % is 71.30."""
    return half_up(price_minor * (MILLION + markup_ppm), MILLION)


def _quote(
    item: PricedItem,
    channel: ChannelTerms,
    known: Mapping[str, ChannelTerms],
    points: PricePoints,
    tax: TaxSettings,
) -> PriceQuote:
    price = _price(item, channel, known, points, ())
    free = _price(msgspec.structs.replace(item, floor_minor=None), channel, known, points, ())
    left = take_home(channel.fees, price)
    tax_minor = tax_in_price(price, tax)
    margin = None if item.cost_minor is None else left.take_home_minor - tax_minor - item.cost_minor
    share = None if margin is None or price == 0 else half_up(margin * MILLION, price)
    return PriceQuote(
        channel_id=channel.id,
        channel=channel.name,
        price_minor=price,
        take_home=left,
        tax_minor=tax_minor,
        margin_minor=margin,
        margin_ppm=share,
        is_at_floor=price > free,
    )


def _price(
    item: PricedItem,
    channel: ChannelTerms,
    known: Mapping[str, ChannelTerms],
    points: PricePoints,
    on_the_way: tuple[str, ...],
) -> int:
    rule = channel.rule
    price = _start(item, channel, known, points, on_the_way)
    price = max(0, marked_up(price, rule.markup_ppm) + rule.offset_minor)
    if rule.recovers is not None:
        wanted = take_home(channel.fees, price).take_home_minor + pitch_share(rule.recovers)
        price = lowest_price(channel.fees, wanted, price)
    return to_point(price, rule.points or points, item.floor_minor or 0)


def _start(
    item: PricedItem,
    channel: ChannelTerms,
    known: Mapping[str, ChannelTerms],
    points: PricePoints,
    on_the_way: tuple[str, ...],
) -> int:
    rule = channel.rule
    if rule.starts_at == "base":
        return item.base_minor
    if channel.id in on_the_way:
        raise PriceRuleError(f"the price of {channel.name!r} depends on itself")
    other = known.get(rule.of or "")
    if other is None:
        raise PriceRuleError(f"the price rule of {channel.name!r} names no known channel")
    price = _price(item, other, known, points, (*on_the_way, channel.id))
    if rule.starts_at == "price_of":
        return price
    return lowest_price(channel.fees, take_home(other.fees, price).take_home_minor)
