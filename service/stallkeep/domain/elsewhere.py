"""What pieces earn on each channel, and what an event's pieces would have earned there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction

import msgspec

from stallkeep.domain.money import half_up, to_text
from stallkeep.domain.waiting import Wait, median_days

PRIOR_PIECES = 5
ENOUGH_SOLD = 5


class Offer(msgspec.Struct, frozen=True, kw_only=True):
    """A piece offered on a channel, sold or not.

    Attributes:
        channel: Name of the channel.
        category: As in stock.
        days: Days on offer, until sold or until now; None when not known.
        is_sold: Whether it was sold there.
        take_home_minor: What its sale left after fees and postage; 0 when not sold.
        cost_minor: What it had cost; None when not known.
    """

    channel: str
    category: str | None
    days: int | None
    is_sold: bool
    take_home_minor: int = 0
    cost_minor: int | None = None


class ChannelEarnings(msgspec.Struct, frozen=True, kw_only=True):
    """What pieces earn on a channel.

    Attributes:
        channel: The channel.
        category: The category; None for all of them together.
        sold: Pieces sold with a known cost.
        offered: Pieces offered.
        over_cost_minor: Average take-home over cost of a piece sold, half up; None without one.
        median_days: Days until half of the pieces are sold; None when fewer ever were.
    """

    channel: str
    category: str | None
    sold: int
    offered: int
    over_cost_minor: int | None
    median_days: int | None


class SoldHere(msgspec.Struct, frozen=True, kw_only=True):
    """A piece sold at the event: its category, and what it left over its cost there."""

    category: str | None
    over_cost_minor: int


class Elsewhere(msgspec.Struct, frozen=True, kw_only=True):
    """What an event's pieces would have earned on a channel, had all been sold there.

    Attributes:
        channel: The channel.
        pieces: Pieces sold at the event.
        here_minor: What they left over their cost at the event, its own costs apart.
        there_minor: What they would have left there.
        median_days: Days until half of them would be sold; None when that is not known.
        from_sales: Sales on the channel that this rests on.
        sentence: In words.
    """

    channel: str
    pieces: int
    here_minor: int
    there_minor: int
    median_days: int | None
    from_sales: int
    sentence: str


def channel_earnings(offers: Iterable[Offer]) -> tuple[ChannelEarnings, ...]:
    """Work out what pieces earn per channel, in all and by category, in order of their names."""
    groups: dict[tuple[str, str | None], list[Offer]] = {}
    for offer in offers:
        groups.setdefault((offer.channel, None), []).append(offer)
        if offer.category is not None:
            groups.setdefault((offer.channel, offer.category), []).append(offer)
    keys = sorted(groups, key=lambda key: (key[0], key[1] or ""))
    return tuple(
        _earnings(channel, category, groups[channel, category]) for channel, category in keys
    )


def elsewhere(
    pieces: Sequence[SoldHere], offers: Sequence[Offer], currency: str
) -> tuple[Elsewhere, ...]:
    """Reckon what pieces sold at an event would have earned on each channel with sales.

    A category's average is drawn towards the channel's by five pieces' worth, so that one lucky
    sale does not speak for all.
    """
    by_channel: dict[str, list[Offer]] = {}
    for offer in offers:
        by_channel.setdefault(offer.channel, []).append(offer)
    answers = []
    for channel in sorted(by_channel):
        sold = [o for o in by_channel[channel] if o.is_sold and o.cost_minor is not None]
        if sold and pieces:
            answers.append(_elsewhere(channel, pieces, by_channel[channel], sold, currency))
    return tuple(answers)


def _earnings(channel: str, category: str | None, offers: Sequence[Offer]) -> ChannelEarnings:
    over = [_over_cost(offer) for offer in offers if offer.is_sold and offer.cost_minor is not None]
    return ChannelEarnings(
        channel=channel,
        category=category,
        sold=len(over),
        offered=len(offers),
        over_cost_minor=half_up(sum(over), len(over)) if over else None,
        median_days=median_days(_waits(offers)),
    )


def _over_cost(offer: Offer) -> int:
    return offer.take_home_minor - (offer.cost_minor or 0)


def _waits(offers: Iterable[Offer]) -> list[Wait]:
    return [Wait(days=o.days, is_sold=o.is_sold) for o in offers if o.days is not None]


def _elsewhere(
    channel: str,
    pieces: Sequence[SoldHere],
    offers: Sequence[Offer],
    sold: Sequence[Offer],
    currency: str,
) -> Elsewhere:
    over: dict[str | None, list[int]] = {}
    for offer in sold:
        over.setdefault(offer.category, []).append(_over_cost(offer))
    average = Fraction(sum(_over_cost(offer) for offer in sold), len(sold))
    categories = Counter(piece.category for piece in pieces)
    there = sum(
        (count * _drawn(over.get(name, []), average) for name, count in categories.items()),
        Fraction(0),
    )
    alike = [offer for offer in offers if offer.category in categories]
    enough = sum(offer.is_sold for offer in alike) >= ENOUGH_SOLD
    days = median_days(_waits(alike if enough else offers))
    there_minor = half_up(there.numerator, there.denominator)
    count = "This piece" if len(pieces) == 1 else f"These {len(pieces)} pieces"
    soon = "" if days is None else f" half of them within about {days} days,"
    unknown = " How long that would take cannot be told yet." if days is None else ""
    return Elsewhere(
        channel=channel,
        pieces=len(pieces),
        here_minor=sum(piece.over_cost_minor for piece in pieces),
        there_minor=there_minor,
        median_days=days,
        from_sales=len(sold),
        sentence=(
            f"{count} would have earned {to_text(there_minor, currency)} over cost on {channel} "
            f"if all sold there,{soon} going by {len(sold)} sales.{unknown}"
        ),
    )


def _drawn(values: Sequence[int], average: Fraction) -> Fraction:
    return (sum(values) + PRIOR_PIECES * average) / (len(values) + PRIOR_PIECES)
