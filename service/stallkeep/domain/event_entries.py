"""From the facts of an event to its entries, one account after the other.

Cost of goods is by specific identification for matched payments: each piece's own cost, or the
average of its item's batches (`batches`) for pieces held in number. For the rest there are three
ways, surest first:

1. the whole rail was counted: what is gone and matched to no payment is the cost, piece by piece;
2. a payment has possibilities: their costs weighted by probability, between lowest and highest;
3. otherwise the amount times the share of cost in price of this event's pieces, between the
   lowest and the highest share among them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence

from stallkeep.domain.cost_share import CostShare
from stallkeep.domain.event_facts import (
    Cost,
    EventFacts,
    Possibility,
    Refund,
    SoldPiece,
    TakenPiece,
    Takings,
)
from stallkeep.domain.fees import fees_of_payment
from stallkeep.domain.ledger import Basis, Entry, fact, spread
from stallkeep.domain.money import apportion, half_up, to_text
from stallkeep.domain.tax import TaxSettings, tax_within

NEGLIGIBLE = 1e-9


def takings_entries(takings: Iterable[Takings]) -> Iterator[Entry]:
    """Post every payment, and take off again what is no earning."""
    for line in takings:
        yield fact("takings", line.day, line.amount_minor, line.id, f"{line.method}, {line.state}")
        if not line.is_income:
            yield fact("not_income", line.day, -line.amount_minor, line.id, "set aside, no earning")


def refund_entries(refunds: Iterable[Refund]) -> Iterator[Entry]:
    """Post the money given back."""
    for refund in refunds:
        yield fact("refunds", refund.day, refund.amount_minor, refund.id, refund.method)


def tax_entries(facts: EventFacts, takings: Iterable[Takings]) -> Iterator[Entry]:
    """Post the sales tax inside payments and refunds, as the export tells or worked out."""
    for line in takings:
        if line.is_income and (tax := _tax_of(line, facts)):
            yield fact("tax", line.day, -tax, line.id, "sales tax")
    for refund in facts.refunds:
        told = refund.tax_minor
        given_back = tax_within(refund.amount_minor, facts.tax) if told is None else told
        if given_back:
            yield fact("tax", refund.day, -given_back, refund.id, "sales tax given back")


def _tax_of(line: Takings, facts: EventFacts) -> int:
    if line.tax_minor is not None:
        return line.tax_minor
    if facts.tax.mode == "none":
        return 0
    return sum(tax_within(amount, facts.tax) for amount in taxable(line, facts.tax))


def taxable(line: Takings, tax: TaxSettings) -> list[int]:
    """List the amounts of a payment from each of which its tax is worked out and rounded."""
    kept = [piece.price_minor for piece in line.pieces if not piece.margin_scheme]
    exempt = sum(piece.price_minor for piece in line.pieces) - sum(kept)
    taxed = line.amount_minor - line.tip_minor - exempt
    return [taxed] if tax.round_per == "receipt" else [*kept, taxed - sum(kept)]


def fee_entries(facts: EventFacts, takings: Iterable[Takings]) -> Iterator[Entry]:
    """Post what providers kept: from the export, else by the schedule of the method."""
    lines: list[Takings | Refund] = [*takings, *facts.refunds]
    for line in lines:
        fee, basis = _fee_of(line, facts)
        if fee:
            yield fact("fees", line.day, -fee, line.id, f"{line.method} fee", basis=basis)


def _fee_of(line: Takings | Refund, facts: EventFacts) -> tuple[int, Basis]:
    if line.fee_minor is not None:
        return line.fee_minor, "fact"
    schedule = facts.fee_schedules.get(line.method)
    return (fees_of_payment(schedule, line.amount_minor) if schedule else 0), "schedule"


def cost_entries(facts: EventFacts) -> Iterator[Entry]:
    """Post the pitch fee and every cost; what belongs to no day is shared equally over them."""
    days = [day.day for day in facts.days]
    for day in facts.days:
        if day.pitch_fee_minor:
            yield fact("pitch_fee", day.day, -day.pitch_fee_minor, "pitch_fee", "pitch fee, day")
    if facts.pitch_fee_minor:
        whole = fact("pitch_fee", None, -facts.pitch_fee_minor, "pitch_fee", "pitch fee, event")
        yield from spread(whole, days, [1] * len(days))
    for cost in facts.costs:
        spent = cost.amount_minor - (cost.tax_minor if facts.reclaims_tax else 0)
        entry = fact(cost.kind, cost.day, -spent, cost.id, _cost_words(cost, facts))
        yield from spread(entry, days, [1] * len(days)) if cost.day is None else [entry]


def _cost_words(cost: Cost, facts: EventFacts) -> str:
    """Say what a cost is and how its amount comes about."""
    words = [cost.kind.replace("_", " ")]
    if cost.trip is not None:
        words.append(cost.trip.words(facts.currency))
    if cost.part_of is not None:
        words.append(cost.part_of.words(facts.currency))
    if facts.reclaims_tax and cost.tax_minor:
        words.append(f"less tax of {to_text(cost.tax_minor, facts.currency)} reclaimed")
    if cost.day is None and len(facts.days) > 1:
        words.append(f"equally over {len(facts.days)} days")
    return "; ".join(words)


def goods_entries(
    facts: EventFacts,
    takings: Sequence[Takings],
    share: CostShare,
    gone: Sequence[TakenPiece],
    *,
    is_counted: bool,
) -> Iterator[Entry]:
    """Post the cost of goods.

    Args:
        facts: The event.
        takings: Payments, the unnoted cash included.
        share: Share of cost in price, for what has no cost of its own.
        gone: Pieces that the count of the whole rail misses and no payment is matched to, each
            with the quantity missing; empty when the rail was not counted.
        is_counted: Whether the whole rail was.
    """
    for line in takings:
        for piece in line.pieces:
            if not piece.is_returned:
                yield _cost_of_piece(piece, line, share)
    if is_counted:
        yield from _gone_entries(facts, takings, share, gone)
        return
    for line in takings:
        if line.state in ("proposed", "unmatched") and line.is_income:
            yield _cost_of_unsettled(line, share)


def _cost_of_piece(piece: SoldPiece, line: Takings, share: CostShare) -> Entry:
    count = "piece" if piece.quantity == 1 else f"{piece.quantity} pieces"
    text = f"{count} {piece.item_id}{', at average cost' if piece.by_average else ''}"
    if piece.cost_minor is not None:
        return fact("cost_of_goods", line.day, -piece.cost_minor, line.id, text)
    return estimate(line.day, line.id, share.of(piece.price_minor), f"{text}, cost not known")


def _cost_of_unsettled(line: Takings, share: CostShare) -> Entry:
    paid = line.amount_minor - line.tip_minor
    if not line.possibilities:
        words = "unmatched, by the usual share of cost"
        return estimate(line.day, line.id, share.of(paid), words)
    costs = [_cost_of(possibility, paid, share) for possibility in line.possibilities]
    chances = [possibility.probability for possibility in line.possibilities]
    rest = max(0.0, 1.0 - sum(chances))
    if rest > NEGLIGIBLE:
        costs.append(share.of(paid))
        chances.append(rest)
    expected = sum(chance * cost[0] for chance, cost in zip(chances, costs, strict=True))
    numerator, denominator = (expected / sum(chances)).as_integer_ratio()
    middle = half_up(numerator, denominator)
    low, high = min(cost[1] for cost in costs), max(cost[2] for cost in costs)
    words = "not settled, by what it may have been"
    return estimate(line.day, line.id, (middle, low, high), words)


def _cost_of(possibility: Possibility, paid: int, share: CostShare) -> tuple[int, int, int]:
    if possibility.cost_minor is not None:
        return (possibility.cost_minor,) * 3
    return share.of(paid) if possibility.pieces else (0, 0, 0)


def estimate(day: dt.date, source_id: str, cost: tuple[int, int, int], text: str) -> Entry:
    """Make the entry of a cost of goods that is expected, at least and at most so much."""
    expected, low, high = cost
    return Entry(
        account="cost_of_goods",
        day=day,
        amount_minor=-expected,
        low_minor=-high,
        high_minor=-low,
        source_id=source_id,
        basis="estimate",
        text=text,
    )


def _gone_entries(
    facts: EventFacts, takings: Sequence[Takings], share: CostShare, gone: Sequence[TakenPiece]
) -> Iterator[Entry]:
    """Cost of pieces gone without a matched payment, shared over days by unsettled takings.

    The count is expected to be right; it may have missed pieces that are there, so the lowest
    cost is what the unsettled payments need at least, if that is less.
    """
    days = [day.day for day in facts.days]
    unsettled = dict.fromkeys(days, 0)
    for line in takings:
        if line.state in ("proposed", "unmatched") and line.day in unsettled:
            unsettled[line.day] += line.amount_minor
    weights = list(unsettled.values()) if any(unsettled.values()) else [1] * len(days)
    for piece, (expected, low, high) in zip(gone, _gone_costs(takings, share, gone), strict=True):
        entry = Entry(
            account="cost_of_goods",
            day=None,
            amount_minor=-expected,
            low_minor=-high,
            high_minor=-low,
            source_id=piece.item_id,
            basis="estimate",
            text="gone from the rail by the count, matched to no payment",
        )
        yield from spread(entry, days, weights)


def _gone_costs(
    takings: Sequence[Takings], share: CostShare, gone: Sequence[TakenPiece]
) -> list[tuple[int, int, int]]:
    """Expected, lowest and highest cost of each piece that only the count says is gone."""
    costs = [
        (piece.cost_minor * piece.quantity,) * 3
        if piece.cost_minor is not None
        else share.of((piece.price_minor or 0) * piece.quantity)
        for piece in gone
    ]
    lows = [low for _, low, _ in costs]
    needed = sum(
        -_cost_of_unsettled(line, share).high_minor
        for line in takings
        if line.state in ("proposed", "unmatched") and line.is_income
    )
    if sum(lows) > needed:
        lows = apportion(max(0, needed), lows)
    return [(cost[0], low, cost[2]) for cost, low in zip(costs, lows, strict=True)]
