"""A shop's earlier events with their results, read in few statements."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from uuid import UUID

import msgspec

from stallkeep.domain.comparison import EventLine
from stallkeep.domain.event_facts import EventFacts
from stallkeep.domain.results import EventResult
from stallkeep.domain.results import event_result as compute
from stallkeep.domain.sell_chance import PastPieces, kind_of
from stallkeep.domain.sell_rate import PastEvent
from stallkeep.domain.sell_through import pieces_of
from stallkeep.store import history_facts as store
from stallkeep.store.connection import Connection
from stallkeep.store.shops import Shop
from stallkeep.work.event_facts import events_facts

MOST_EVENTS = 30
"""Events looked back on: what a shop did longer ago says little of the next market."""


class KnownEvent(msgspec.Struct, frozen=True, kw_only=True):
    """An event with its facts and its result."""

    id: UUID
    name: str
    kind: str | None
    starts_on: dt.date
    facts: EventFacts
    result: EventResult

    @property
    def days(self) -> int:
        """How many days it lasted, at least 1."""
        return max(1, len(self.facts.days))

    def as_line(self) -> EventLine:
        """Give the figures that a comparison needs."""
        whole = self.result.whole
        return EventLine(
            id=str(self.id),
            name=self.name,
            kind=self.kind,
            starts_on=self.starts_on,
            days=self.days,
            net_minor=whole.net.expected_minor,
            takings_minor=whole.takings_minor,
            pieces_sold=whole.pieces.sold,
            pieces_taken=whole.pieces.taken,
            open_minutes=whole.open_minutes,
        )

    def as_history(self) -> PastEvent:
        """Give the figures that a forecast learns from."""
        return PastEvent(
            starts_on=self.starts_on,
            days=float(self.days),
            pieces=self.result.whole.pieces.sold,
            kind=self.kind,
        )


async def past_events(
    con: Connection, shop: Shop, today: dt.date, *, but: UUID
) -> list[KnownEvent]:
    """Read the latest events that are over, at most `MOST_EVENTS`, the latest first.

    Args:
        con: In the shop's scope.
        shop: The shop.
        today: The day it is for the shop.
        but: An event to leave out.
    """
    rows = await store.events_over(con, shop.shop_id, but, today, MOST_EVENTS)
    facts = await events_facts(con, shop, [row.id for row in rows])
    return [
        KnownEvent(
            id=row.id,
            name=row.name,
            kind=row.kind,
            starts_on=row.starts_on,
            facts=facts[row.id],
            result=compute(facts[row.id]),
        )
        for row in rows
    ]


def past_pieces(
    past: Sequence[KnownEvent],
    held: Mapping[tuple[UUID, str], int | None],
    band_starts_minor: Sequence[int],
) -> list[PastPieces]:
    """List what was taken to earlier events and how much of it sold, for the chances to sell.

    Args:
        past: The events.
        held: Event and tag code → days held when taken; not known counts as none.
        band_starts_minor: Rising starts of the price bands after the first.
    """
    found = []
    for event in past:
        for piece in pieces_of(event.facts):
            price = piece.item.price_minor
            if piece.was_on_rail and price is not None:
                days = held.get((event.id, piece.item.item_id)) or 0
                kind = kind_of(piece.item.category, price, days, band_starts_minor)
                sold = min(piece.sold, piece.taken)
                found.append(PastPieces(kind=kind, taken=piece.taken, sold=sold))
    return found
