"""How many pieces were sold, on each day and in all, where not every payment is settled."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from math import floor, fsum

import msgspec

from stallkeep.domain.event_facts import EventFacts, Takings
from stallkeep.domain.money import apportion
from stallkeep.domain.sell_through import Piece
from stallkeep.domain.statement import PieceCount

Counts = tuple[PieceCount, dict[dt.date, PieceCount]]


def piece_counts(facts: EventFacts, takings: Sequence[Takings], pieces: Sequence[Piece]) -> Counts:
    """Count pieces for the whole event and for each day that has payments or is an event day.

    Known are the pieces of matched payments only. After a count of the whole rail the others are
    what it misses, which may have slips, shared over the days by their unsettled payments;
    without a count, unsettled payments are counted by their possibilities, or by the average
    price.
    """
    taken, sold = sum(piece.taken for piece in pieces), sum(piece.sold for piece in pieces)
    known = {day.day: 0 for day in facts.days}
    likely = {day.day: 0.0 for day in facts.days}
    price = _average_price(facts, takings)
    for line in takings:
        known[line.day] = known.get(line.day, 0) + sum(
            piece.quantity for piece in line.pieces if not piece.is_returned
        )
        likely[line.day] = likely.get(line.day, 0.0) + _likely_pieces(line, price)
    unmatched = sold - sum(known.values())
    extra = unmatched if facts.is_counted else floor(fsum(likely.values()) + 0.5)
    by_day = {
        day: PieceCount(known=known[day], estimated=share, taken=taken)
        for day, share in zip(likely, _shared(extra, list(likely.values())), strict=True)
    }
    whole = PieceCount(known=sold - unmatched, estimated=extra, taken=taken)
    return whole if facts.is_counted else msgspec.structs.replace(whole, known=sold), by_day


def _average_price(facts: EventFacts, takings: Sequence[Takings]) -> float | None:
    sold = [p for line in takings for p in line.pieces if not p.is_returned]
    if price := sum(piece.price_minor for piece in sold):
        return price / sum(piece.quantity for piece in sold)
    priced = [piece for piece in facts.rail if piece.price_minor]
    if count := sum(piece.quantity for piece in priced):
        return sum((p.price_minor or 0) * p.quantity for p in priced) / count
    return None


def _likely_pieces(line: Takings, average_price: float | None) -> float:
    if line.state not in ("proposed", "unmatched") or not line.is_income:
        return 0.0
    paid = line.amount_minor - line.tip_minor
    by_price = paid / average_price if average_price else 1.0
    explained = fsum(p.probability for p in line.possibilities)
    spoken_of = fsum(p.probability * p.pieces for p in line.possibilities)
    return spoken_of + max(0.0, 1.0 - explained) * by_price


def _shared(count: int, weights: Sequence[float]) -> list[int]:
    if not weights:
        return []
    whole = [round(weight * 1000) for weight in weights]
    return apportion(count, whole if any(whole) else [1] * len(weights))
