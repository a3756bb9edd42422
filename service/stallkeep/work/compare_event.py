"""Set an event beside the shop's other events, and its pieces beside what they earn elsewhere."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

import msgspec

from stallkeep.domain.cautions import CAUTION
from stallkeep.domain.comparison import EventComparison, compare_events
from stallkeep.domain.elsewhere import ChannelEarnings, Elsewhere, channel_earnings, elsewhere
from stallkeep.domain.results import event_result as compute
from stallkeep.domain.sold_here import matched_pieces, missing_pieces
from stallkeep.store.connection import Connection
from stallkeep.store.shops import Shop
from stallkeep.work.event_facts import event_facts
from stallkeep.work.existing_event import existing_event
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
    event = await existing_event(con, shop.shop_id, event_id)
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
    matched, missing = [*matched_pieces(facts)], [*missing_pieces(facts)]
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
