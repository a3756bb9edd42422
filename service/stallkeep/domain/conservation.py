"""The states of takings add up to the takings, per method."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from stallkeep.domain.event_facts import Takings
from stallkeep.domain.settled import PaidSum

METHODS = ("card", "cash", "online", "transfer", "other")


class MethodTotals(msgspec.Struct, frozen=True, kw_only=True):
    """Takings of one method by the state of their matching: the line that must add up.

    Attributes:
        method: card, cash, ….
        matched_minor: Sum of matched payments.
        proposed_minor: Sum of payments with proposed pieces.
        unmatched_minor: Sum of payments without pieces, unnoted cash included.
        set_aside_minor: Sum of payments set aside.
        takings_minor: Sum of all payments, added up independently of their states.
        adds_up: Whether the four sums make the takings.
    """

    method: str
    matched_minor: int
    proposed_minor: int
    unmatched_minor: int
    set_aside_minor: int
    takings_minor: int
    adds_up: bool


def method_totals(takings: Sequence[Takings | PaidSum]) -> tuple[MethodTotals, ...]:
    """Takings per method, methods in their usual order."""
    sums: dict[str, dict[str, int]] = {}
    totals: dict[str, int] = {}
    for line in takings:
        states = sums.setdefault(line.method, {})
        states[line.state] = states.get(line.state, 0) + line.amount_minor
        totals[line.method] = totals.get(line.method, 0) + line.amount_minor
    order = [method for method in METHODS if method in sums]
    order += sorted(method for method in sums if method not in METHODS)
    return tuple(_method_line(method, sums[method], totals[method]) for method in order)


def _method_line(method: str, states: dict[str, int], takings_minor: int) -> MethodTotals:
    four = [states.get(state, 0) for state in ("matched", "proposed", "unmatched", "set_aside")]
    return MethodTotals(
        method=method,
        matched_minor=four[0],
        proposed_minor=four[1],
        unmatched_minor=four[2],
        set_aside_minor=four[3],
        takings_minor=takings_minor,
        adds_up=sum(four) == takings_minor,
    )
