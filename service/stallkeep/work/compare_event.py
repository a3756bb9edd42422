"""Set an event beside the shop's other events, and its pieces beside what they earn elsewhere."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from uuid import UUID

import msgspec

from stallkeep.domain.cash_box import cash_boxes, unnoted_takings
from stallkeep.domain.cautions import CAUTION
from stallkeep.domain.comparison import EventComparison, compare_events
from stallkeep.domain.elsewhere import (
    ChannelEarnings,
    Elsewhere,
    SoldHere,
    channel_earnings,
    elsewhere,
)
from stallkeep.domain.event_facts import EventFacts, SoldPiece, Takings
from stallkeep.domain.fees import fees_of_payment
from stallkeep.domain.money import apportion, half_up
from stallkeep.domain.results import event_result as compute
from stallkeep.domain.sell_through import gone_unmatched, pieces_of
from stallkeep.domain.tax import tax_within
from stallkeep.store import events
from stallkeep.store.connection import Connection
from stallkeep.store.shops import Shop
from stallkeep.work.event_errors import EventNotFoundError
from stallkeep.work.event_result import event_facts
from stallkeep.work.past_events import KnownEvent, past_events
from stallkeep.work.read_offers import read_offers


class Comparison(msgspec.Struct, frozen=True, kw_only=True):
    """An event beside the others, and its pieces beside other channels.

    Attributes:
        currency: ISO 4217 code of every amount.
        is_final: False for an event that still lacks something: its figures are those so far.
        events: This event among the others, per day.
        pieces: Pieces sold at the event whose cost is known; the comparison with channels is
            about them.
        estimated_pieces: Those of them without a matched payment: missing in the count, with
            the unsettled takings shared over them by their prices.
        over_cost_minor: What they left over their cost at the event: price less card fee, sales
            tax and cost; the event's own costs are not taken off.
        event_costs_minor: The event's own costs, to be earned by it.
        channels: What pieces earn on each channel, in all and by category.
        elsewhere: What the event's pieces would have earned on each channel.
        caution: To be shown wherever these figures are.
    """

    currency: str
    is_final: bool
    events: EventComparison
    pieces: int
    estimated_pieces: int
    over_cost_minor: int
    event_costs_minor: int
    channels: tuple[ChannelEarnings, ...]
    elsewhere: tuple[Elsewhere, ...]
    caution: str = CAUTION


async def compare_event(con: Connection, shop: Shop, event_id: UUID, today: dt.date) -> Comparison:
    """Compare an event with the shop's others and its pieces with the shop's other channels.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    event = await events.find_event(con, shop.shop_id, event_id)
    if event is None:
        raise EventNotFoundError(f"There is no event {event_id}")
    facts = await event_facts(con, shop, event_id)
    result = compute(facts)
    this = KnownEvent(
        id=event.id,
        name=event.name,
        kind=event.kind,
        starts_on=event.starts_on,
        facts=facts,
        result=result,
    )
    others = await past_events(con, shop, today, but=event_id)
    offers = await read_offers(con, shop, today)
    matched, missing = [*_matched(facts)], [*_missing(facts)]
    pieces = [*matched, *missing]
    return Comparison(
        currency=shop.currency,
        is_final=result.is_final,
        events=compare_events(this.as_line(), [other.as_line() for other in others], shop.currency),
        pieces=len(pieces),
        estimated_pieces=len(missing),
        over_cost_minor=sum(piece.over_cost_minor for piece in pieces),
        event_costs_minor=result.whole.costs_minor,
        channels=channel_earnings(offers),
        elsewhere=elsewhere(pieces, offers, shop.currency),
    )


def _matched(facts: EventFacts) -> Iterator[SoldHere]:
    """Take the pieces that a payment is matched to, each with its part of the fee."""
    for line in facts.takings:
        kept = [piece for piece in line.pieces if not piece.is_returned]
        for piece in kept:
            if piece.cost_minor is not None:
                over = piece.price_minor - _away(piece, line, facts) - piece.cost_minor
                yield from _each(piece.category, over, piece.quantity)


def _away(piece: SoldPiece, line: Takings, facts: EventFacts) -> int:
    fee = half_up(_fee(line, facts) * piece.price_minor, line.amount_minor or 1)
    return fee + (0 if piece.margin_scheme else tax_within(piece.price_minor, facts.tax))


def _fee(line: Takings, facts: EventFacts) -> int:
    if line.fee_minor is not None:
        return line.fee_minor
    schedule = facts.fee_schedules.get(line.method)
    return fees_of_payment(schedule, line.amount_minor) if schedule else 0


def _missing(facts: EventFacts) -> Iterator[SoldHere]:
    """Take what the count misses and no payment is matched to, at a share of unsettled takings."""
    gone = gone_unmatched(pieces_of(facts))
    if not gone:
        return
    weights = [(piece.price_minor or 0) * piece.quantity for piece in gone]
    shares = apportion(_unsettled(facts), weights if any(weights) else [1] * len(gone))
    for piece, share in zip(gone, shares, strict=True):
        if piece.cost_minor is not None:
            over = share - piece.cost_minor * piece.quantity
            yield from _each(piece.category, over, piece.quantity)


def _unsettled(facts: EventFacts) -> int:
    """Add up takings that no piece is matched to, less fees, tax, and what was given back of them.

    Money given back is first for the pieces that came back with it, which are not counted either.
    """
    left = 0
    for line in (*facts.takings, *unnoted_takings(cash_boxes(facts))):
        if line.state in {"proposed", "unmatched"} and line.is_income:
            left += line.amount_minor - line.tip_minor - _fee(line, facts)
            left -= tax_within(line.amount_minor - line.tip_minor, facts.tax)
    returned = sum(p.price_minor for line in facts.takings for p in line.pieces if p.is_returned)
    back = max(0, -sum(refund.amount_minor for refund in facts.refunds) - returned)
    return left - back + tax_within(back, facts.tax)


def _each(category: str | None, over_minor: int, quantity: int) -> Iterator[SoldHere]:
    for over in apportion(over_minor, [1] * quantity):
        yield SoldHere(category=category, over_cost_minor=over)
