"""What an event's result still lacks, and how its figures were made, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from stallkeep.domain.cash_box import CASH, CashBox
from stallkeep.domain.event_facts import EventFacts, Takings
from stallkeep.domain.money import to_text
from stallkeep.domain.settled import PaidSum, Settled


def missing(
    facts: EventFacts, takings: Sequence[Takings], settled: Settled, boxes: Sequence[CashBox]
) -> tuple[str, ...]:
    """Say what must be entered or settled before the result is final; empty when it is."""
    return (
        *_missing_days(facts),
        *_missing_takings(facts, takings, settled),
        *_missing_fees(facts, takings, settled),
        *_missing_cash(boxes),
        *_missing_count(settled),
    )


def notes(
    facts: EventFacts,
    takings: Sequence[Takings],
    settled: Settled,
    boxes: Sequence[CashBox],
) -> tuple[str, ...]:
    """Say what the figures rest on, where it is not plain."""
    return (
        *_notes_on_cash(facts, settled, boxes),
        *_notes_on_costs(facts),
        *_notes_on_fees(facts, takings, settled),
        *_notes_on_tax(facts, settled),
        *_notes_on_pieces(settled),
    )


def _missing_days(facts: EventFacts) -> Iterator[str]:
    if not facts.days:
        yield "No day of the event is entered."
    open_days = [day for day in facts.days if not day.is_closed]
    if open_days and len(open_days) == len(facts.days):
        yield "The event is not closed yet: close it (its state) when all of it is entered."
        return
    for day in open_days:
        yield f"{day.day} is not closed yet."


def _missing_takings(
    facts: EventFacts, takings: Sequence[Takings], settled: Settled
) -> Iterator[str]:
    if not takings and not settled.paid:
        yield "No payment is in yet."
    for state, words in (
        ("proposed", "has only proposed pieces"),
        ("unmatched", "is matched to no piece"),
    ):
        lines = [line for line in takings if line.state == state]
        if lines:
            amount = to_text(sum(line.amount_minor for line in lines), facts.currency)
            yield f"{amount} of takings ({_count(len(lines), 'payment')}) {words}."
    without = [group for group in settled.sold if group.cost_minor is None]
    if without:
        count = _count(sum(group.pieces for group in without), "sold piece")
        yield f"The purchase cost of {count} is not entered; it is estimated."


def _missing_fees(facts: EventFacts, takings: Sequence[Takings], settled: Settled) -> Iterator[str]:
    cards = [] if "card" in facts.fee_schedules else _feeless("card", takings, settled)
    if cards:
        amount = to_text(sum(line.amount_minor for line in cards), facts.currency)
        count = _count(_payments(cards), "payment")
        yield f"The card fee of {amount} ({count}) is not known; it counts as 0."


def _missing_cash(boxes: Sequence[CashBox]) -> Iterator[str]:
    for box in boxes:
        if box.counted_minor is not None and box.float_minor is None:
            yield f"The float of {box.day} is not entered, so its cash cannot be checked."
        if box.counted_minor is None and (box.float_minor is not None or box.noted_minor):
            yield f"The cash box of {box.day} is not counted."


def _missing_count(settled: Settled) -> Iterator[str]:
    rail = settled.rail
    if not rail.taken:
        yield "No rail is entered, so there is no sell-through."
    elif rail.uncounted:
        count = _count(rail.uncounted, "piece")
        yield f"Of {rail.taken} pieces taken, {count} had no stock count after the event."


def _notes_on_cash(facts: EventFacts, settled: Settled, boxes: Sequence[CashBox]) -> Iterator[str]:
    for box in boxes:
        if box.unnoted_minor:
            amount = to_text(box.unnoted_minor, facts.currency)
            yield f"{amount} in the cash box of {box.day} has no line; it counts as takings."
    lines: list[Takings | PaidSum] = [*facts.takings, *settled.paid]
    cash_days = {line.day for line in lines if line.method == CASH}
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


def _notes_on_fees(
    facts: EventFacts, takings: Sequence[Takings], settled: Settled
) -> Iterator[str]:
    for method in sorted(facts.fee_schedules):
        if payments := _payments(_feeless(method, takings, settled)):
            yield (
                f"The fee of {_count(payments, f'{method} payment')} is worked out from the "
                "channel's fee schedule, because the export does not tell it."
            )


def _notes_on_tax(facts: EventFacts, settled: Settled) -> Iterator[str]:
    if facts.tax.mode != "none" and settled.margin_scheme:
        count = _count(settled.margin_scheme.pieces, "piece")
        yield f"{count} under a margin scheme: no tax is worked out and none taken off for them."


def _notes_on_pieces(settled: Settled) -> Iterator[str]:
    for tag_code in settled.home_yet_paid:
        yield f"Piece {tag_code} has a payment but was counted among those home."
    unlisted = sum(piece.taken for piece in settled.pieces if not piece.is_listed)
    if unlisted and settled.rail.taken:
        yield f"{_count(unlisted, 'sold piece')} stood on no rail list; counted as taken."
    gone = sum(piece.quantity for piece in settled.gone)
    if gone:
        yield (
            f"{_count(gone, 'piece')} gone by the stock count without a matched payment; "
            "their cost is taken off."
        )


def _feeless(method: str, takings: Sequence[Takings], settled: Settled) -> list[Takings | PaidSum]:
    lines: list[Takings | PaidSum] = [*takings, *settled.paid]
    return [line for line in lines if line.method == method and line.fee_minor is None]


def _payments(lines: Sequence[Takings | PaidSum]) -> int:
    return sum(line.payments if isinstance(line, PaidSum) else 1 for line in lines)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
