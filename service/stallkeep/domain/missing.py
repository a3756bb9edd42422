"""What an event's result still lacks, and how its figures were made, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from stallkeep.domain.cash_box import CASH, CashBox
from stallkeep.domain.event_facts import EventFacts, SoldPiece, Takings
from stallkeep.domain.money import to_text
from stallkeep.domain.sell_through import Piece


def missing(
    facts: EventFacts, takings: Sequence[Takings], boxes: Sequence[CashBox]
) -> tuple[str, ...]:
    """Say what must be entered or settled before the result is final; empty when it is."""
    return (
        *_missing_days(facts),
        *_missing_takings(facts, takings),
        *_missing_cash(boxes),
        *_missing_count(facts),
    )


def notes(
    facts: EventFacts,
    takings: Sequence[Takings],
    boxes: Sequence[CashBox],
    pieces: Sequence[Piece],
) -> tuple[str, ...]:
    """Say what the figures rest on, where it is not plain."""
    return (
        *_notes_on_cash(facts, boxes),
        *_notes_on_costs(facts),
        *_notes_on_fees(facts, takings),
        *_notes_on_tax(facts, takings),
        *_notes_on_pieces(facts, pieces),
    )


def _missing_days(facts: EventFacts) -> Iterator[str]:
    if not facts.days:
        yield "No day of the event is entered."
    for day in facts.days:
        if not day.is_closed:
            yield f"{day.day} is not closed yet."


def _missing_takings(facts: EventFacts, takings: Sequence[Takings]) -> Iterator[str]:
    if not takings:
        yield "No payment is in yet."
    for state, words in (
        ("proposed", "has only proposed pieces"),
        ("unmatched", "is matched to no piece"),
    ):
        lines = [line for line in takings if line.state == state]
        if lines:
            amount = to_text(sum(line.amount_minor for line in lines), facts.currency)
            yield f"{amount} of takings ({_count(len(lines), 'payment')}) {words}."
    without = [p for p in _sold(takings) if p.cost_minor is None]
    if without:
        count = _count(sum(p.quantity for p in without), "sold piece")
        yield f"The purchase cost of {count} is not entered; it is estimated."
    cards = [
        line
        for line in takings
        if line.method == "card" and line.fee_minor is None and "card" not in facts.fee_schedules
    ]
    if cards:
        amount = to_text(sum(line.amount_minor for line in cards), facts.currency)
        count = _count(len(cards), "payment")
        yield f"The card fee of {amount} ({count}) is not known; it counts as 0."


def _missing_cash(boxes: Sequence[CashBox]) -> Iterator[str]:
    for box in boxes:
        if box.counted_minor is not None and box.float_minor is None:
            yield f"The float of {box.day} is not entered, so its cash cannot be checked."
        if box.counted_minor is None and (box.float_minor is not None or box.noted_minor):
            yield f"The cash box of {box.day} is not counted."


def _missing_count(facts: EventFacts) -> Iterator[str]:
    if not facts.rail:
        yield "No rail is entered, so there is no sell-through."
        return
    uncounted = [piece for piece in facts.rail if piece.counted_home is None]
    if uncounted:
        count = _count(sum(p.quantity for p in uncounted), "piece")
        taken = sum(piece.quantity for piece in facts.rail)
        yield f"Of {taken} pieces taken, {count} had no stock count after the event."


def _notes_on_cash(facts: EventFacts, boxes: Sequence[CashBox]) -> Iterator[str]:
    for box in boxes:
        if box.unnoted_minor:
            amount = to_text(box.unnoted_minor, facts.currency)
            yield f"{amount} in the cash box of {box.day} has no line; it counts as takings."
    cash_days = {line.day for line in facts.takings if line.method == CASH}
    bare = [box for box in boxes if box.float_minor is None and box.counted_minor is None]
    for box in bare:
        if box.day not in cash_days:
            yield f"No cash is entered for {box.day}."


def _notes_on_costs(facts: EventFacts) -> Iterator[str]:
    fees = facts.pitch_fee_minor + sum(day.pitch_fee_minor for day in facts.days)
    if not fees and not any(cost.kind == "pitch_fee" for cost in facts.costs):
        yield "No pitch fee is entered; it counts as 0."
    if not any(facts.own_minutes.values()):
        yield "No own time is entered, so there are no earnings per own hour."
    if any(day.open_minutes is None for day in facts.days):
        yield "Opening hours are not entered for every day, so there are no earnings per open hour."


def _notes_on_fees(facts: EventFacts, takings: Sequence[Takings]) -> Iterator[str]:
    for method in sorted(facts.fee_schedules):
        lines = [x for x in takings if x.method == method and x.fee_minor is None]
        if lines:
            yield (
                f"The fee of {_count(len(lines), f'{method} payment')} is worked out from the "
                "channel's fee schedule, because the export does not tell it."
            )


def _notes_on_tax(facts: EventFacts, takings: Sequence[Takings]) -> Iterator[str]:
    if facts.tax.mode == "none":
        return
    under = [piece for piece in _sold(takings) if piece.margin_scheme]
    if under:
        count = _count(sum(p.quantity for p in under), "piece")
        yield f"{count} under a margin scheme: no tax is worked out and none taken off for them."


def _notes_on_pieces(facts: EventFacts, pieces: Sequence[Piece]) -> Iterator[str]:
    for piece in pieces:
        if piece.gone is not None and piece.matched > piece.gone:
            yield f"Piece {piece.item.item_id} has a payment but was counted among those home."
    unlisted = sum(piece.taken for piece in pieces if not piece.was_on_rail)
    if unlisted and facts.rail:
        yield f"{_count(unlisted, 'sold piece')} stood on no rail list; counted as taken."
    gone = sum(max(0, (p.gone or 0) - p.matched) for p in pieces)
    if gone:
        yield (
            f"{_count(gone, 'piece')} gone by the stock count without a matched payment; "
            "their cost is taken off."
        )


def _sold(takings: Sequence[Takings]) -> Iterator[SoldPiece]:
    for line in takings:
        yield from (piece for piece in line.pieces if not piece.is_returned)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
