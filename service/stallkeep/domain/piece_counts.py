"""How many pieces were sold, on each day and in all, where not every payment is settled."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from math import floor, fsum

import msgspec

from stallkeep.domain.event_facts import EventFacts, Takings
from stallkeep.domain.money import apportion
from stallkeep.domain.settled import Settled
from stallkeep.domain.statement import PieceCount

Counts = tuple[PieceCount, dict[dt.date, PieceCount]]


def piece_counts(facts: EventFacts, takings: Sequence[Takings], settled: Settled) -> Counts:
    """Count pieces for the whole event and for each day that has payments or is an event day.

    Known are the pieces of matched payments only. After a count of the whole rail the others are
    what it misses, which may have slips, shared over the days by their unsettled payments;
    without a count, unsettled payments are counted by their possibilities, or by the average
    price.

    Args:
        facts: The event.
        takings: Payments that are not settled.
        settled: Everything else.
    """
    taken = sum(piece.taken for piece in settled.pieces)
    sold = sum(piece.sold for piece in settled.pieces)
    paid_on = sorted({line.day for line in takings} | {line.day for line in settled.paid})
    known = dict.fromkeys([*(day.day for day in facts.days), *paid_on], 0)
    likely = dict.fromkeys(known, 0.0)
    price = _average_price(settled)
    for group in settled.sold:
        known[group.day] += group.pieces
    for line in takings:
        likely[line.day] += _likely_pieces(line, price)
    unmatched = sold - sum(known.values())
    extra = unmatched if settled.is_counted else floor(fsum(likely.values()) + 0.5)
    by_day = {
        day: PieceCount(known=known[day], estimated=share, taken=taken)
        for day, share in zip(likely, _shared(extra, list(likely.values())), strict=True)
    }
    whole = PieceCount(known=sold - unmatched, estimated=extra, taken=taken)
    return whole if settled.is_counted else msgspec.structs.replace(whole, known=sold), by_day


def _average_price(settled: Settled) -> float | None:
    if price := sum(group.price_minor for group in settled.sold):
        return price / sum(group.pieces for group in settled.sold)
    rail = settled.rail
    return rail.priced_minor / rail.priced if rail.priced else None


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
