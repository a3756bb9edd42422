"""What each piece sold at an event left over its cost there, the event's own costs apart."""

from __future__ import annotations

from collections.abc import Iterator

from stallkeep.domain.cash_box import cash_boxes, unnoted_takings
from stallkeep.domain.elsewhere import SoldHere
from stallkeep.domain.event_facts import EventFacts, SoldPiece, Takings
from stallkeep.domain.fees import fees_of_payment
from stallkeep.domain.money import apportion, half_up
from stallkeep.domain.sell_through import gone_unmatched, pieces_of
from stallkeep.domain.tax import tax_in_price, tax_within


def matched_pieces(facts: EventFacts) -> Iterator[SoldHere]:
    """Take the pieces that a payment is matched to, each with its part of the fee."""
    for line in facts.takings:
        kept = [piece for piece in line.pieces if not piece.is_returned]
        for piece in kept:
            if piece.cost_minor is not None:
                over = piece.price_minor - _away(piece, line, facts) - piece.cost_minor
                yield from _each(piece.category, over, piece.quantity)


def _away(piece: SoldPiece, line: Takings, facts: EventFacts) -> int:
    fee = half_up(_fee(line, facts) * piece.price_minor, line.amount_minor or 1)
    return fee + (0 if piece.margin_scheme else tax_in_price(piece.price_minor, facts.tax))


def _fee(line: Takings, facts: EventFacts) -> int:
    if line.fee_minor is not None:
        return line.fee_minor
    schedule = facts.fee_schedules.get(line.method)
    return fees_of_payment(schedule, line.amount_minor) if schedule else 0


def missing_pieces(facts: EventFacts) -> Iterator[SoldHere]:
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
