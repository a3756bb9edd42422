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
    """Take the pieces that a payment is matched to, each with its part of the fee.

    Money given back of a payment, beyond what came back for it, is taken off its other pieces.
    """
    named = _given_back_of(facts)
    for line in facts.takings:
        kept = [piece for piece in line.pieces if not piece.is_returned]
        back = _back_of_kept(line, named.get(line.id, 0))
        shares = apportion(back, [p.price_minor for p in kept]) if back else [0] * len(kept)
        for piece, share in zip(kept, shares, strict=True):
            if piece.cost_minor is not None:
                lost = share - (0 if piece.margin_scheme else tax_in_price(share, facts.tax))
                over = piece.price_minor - _away(piece, line, facts) - lost - piece.cost_minor
                yield from _each(piece.category, over, piece.quantity)


def _given_back_of(facts: EventFacts) -> dict[str, int]:
    """Add up what was given back of each payment with pieces, as plus amounts."""
    settled = {line.id for line in facts.takings if line.pieces}
    found: dict[str, int] = {}
    for refund in facts.refunds:
        if refund.of is not None and refund.of in settled:
            found[refund.of] = found.get(refund.of, 0) - refund.amount_minor
    return found


def _back_of_kept(line: Takings, given_back_minor: int) -> int:
    """The part of what was given back that is for pieces the customer kept."""
    kept = sum(piece.price_minor for piece in line.pieces if not piece.is_returned)
    return min(max(0, given_back_minor - _returned(line)), kept)


def _returned(line: Takings) -> int:
    return sum(piece.price_minor for piece in line.pieces if piece.is_returned)


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

    Money given back of no known payment is first for the pieces that came back and that no other
    was given back for; they are not counted either.
    """
    left = 0
    for line in (*facts.takings, *unnoted_takings(cash_boxes(facts))):
        if line.state in {"proposed", "unmatched"} and line.is_income:
            left += line.amount_minor - line.tip_minor - _fee(line, facts)
            left -= tax_within(line.amount_minor - line.tip_minor, facts.tax)
    named = _given_back_of(facts)
    returned = sum(max(0, _returned(line) - named.get(line.id, 0)) for line in facts.takings)
    given = sum(-refund.amount_minor for refund in facts.refunds if refund.of not in named)
    back = max(0, given - returned)
    return left - back + tax_within(back, facts.tax)


def _each(category: str | None, over_minor: int, quantity: int) -> Iterator[SoldHere]:
    for over in apportion(over_minor, [1] * quantity):
        yield SoldHere(category=category, over_cost_minor=over)
