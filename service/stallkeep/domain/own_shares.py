"""Shares that a forecast takes from a shop's own earlier events, in parts per million."""

from __future__ import annotations

from collections.abc import Iterable

from stallkeep.domain.event_facts import EventFacts
from stallkeep.domain.money import half_up
from stallkeep.domain.results import EventResult

MILLION = 1_000_000


def paid_share_ppm(events: Iterable[EventFacts]) -> int:
    """Share of the price on the tag that customers paid for matched pieces of the rail.

    All of it while nothing is known.
    """
    paid = asked = 0
    for event in events:
        tags = {piece.item_id: piece.price_minor for piece in event.rail}
        for piece in (piece for line in event.takings for piece in line.pieces):
            if tag := tags.get(piece.item_id):
                paid += piece.price_minor
                asked += tag * piece.quantity
    return half_up(paid * MILLION, asked) if asked else MILLION


def card_share_ppm(results: Iterable[EventResult]) -> int:
    """Share of the takings paid by card; all of them while nothing is known."""
    by_card = whole = 0
    for totals in (totals for result in results for totals in result.methods):
        whole += totals.takings_minor
        by_card += totals.takings_minor if totals.method == "card" else 0
    return half_up(by_card * MILLION, whole) if whole > 0 else MILLION


def sell_through_ppm(results: Iterable[EventResult]) -> int | None:
    """Pieces sold as a share of those taken; None while nothing was taken or sold."""
    counts = [result.whole.pieces for result in results]
    taken, sold = sum(count.taken for count in counts), sum(count.sold for count in counts)
    return half_up(sold * MILLION, taken) if taken and sold else None
