"""Sales rung up at the stall, brought together with the lines that paid for them."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict

import msgspec
import numpy as np
from scipy.optimize import linear_sum_assignment

from stallkeep.domain.matching.evidence import Evidence, RingUp
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.naming import money, piece_name
from stallkeep.domain.matching.reconciliation import Finding

FARTHEST = dt.timedelta(minutes=45)
UNKNOWN_TIME_MINUTES = 30.0
NEVER = 1e6
RUNG_UP = 2.0**11  # likelihood ratio per piece: a ring-up of this amount and time named it


class RungUp(msgspec.Struct, frozen=True):
    """What ring-ups say.

    Attributes:
        boosts: Transaction id to item id to odds.
        without_line: Units per item that were rung up and no line paid for.
        findings: Contradictions.
    """

    boosts: dict[str, dict[str, float]]
    without_line: Counter[str]
    findings: tuple[Finding, ...]


def use_ring_ups(evidence: Evidence, lines: list[MoneyLine]) -> RungUp:
    """Pair ring-ups and lines of one amount, the nearest in time together (least total time)."""
    quantity = {p.item_id: max(p.quantity, 1) for p in evidence.pieces}
    rung = sorted(evidence.ring_ups, key=lambda r: r.ring_up_id)
    findings = [*_unknown(evidence, rung), *_too_often(evidence, rung)]
    boosts: dict[str, dict[str, float]] = defaultdict(dict)
    without: Counter[str] = Counter()
    paired = _paired(rung, sorted(lines, key=lambda x: x.transaction_id))
    for ring_up in rung:
        known = [item for item in ring_up.item_ids if item in quantity]
        line = paired.get(ring_up.ring_up_id)
        if line is None:
            without.update(known)
        else:
            boosts[line.transaction_id].update(dict.fromkeys(known, RUNG_UP))
    capped = Counter({item: min(n, quantity[item]) for item, n in without.items()})
    return RungUp(dict(boosts), capped, tuple(findings))


def _paired(rung: list[RingUp], lines: list[MoneyLine]) -> dict[str, MoneyLine]:
    if not rung or not lines:
        return {}
    cost = np.array([[_minutes_apart(r, line) for line in lines] for r in rung])
    rows, columns = linear_sum_assignment(cost)
    return {
        rung[r].ring_up_id: lines[c]
        for r, c in zip(rows, columns, strict=True)
        if cost[r, c] < NEVER
    }


def _minutes_apart(ring_up: RingUp, line: MoneyLine) -> float:
    if line.occurred_on != ring_up.occurred_on:
        return NEVER
    if ring_up.total_minor not in {line.amount_minor, line.amount_minor - (line.tip_minor or 0)}:
        return NEVER
    if ring_up.method and line.method and ring_up.method != line.method:
        return NEVER
    if ring_up.occurred_at is None or line.occurred_at is None:
        return UNKNOWN_TIME_MINUTES
    apart = abs(ring_up.occurred_at - line.occurred_at)
    return apart.total_seconds() / 60 if apart <= FARTHEST else NEVER


def _unknown(evidence: Evidence, rung: list[RingUp]) -> list[Finding]:
    known = {piece.item_id for piece in evidence.pieces}
    return [
        Finding(
            code="rung-up-piece-not-taken",
            sentence=f"A piece that was not on the rail was rung up on {r.occurred_on}, in a sale "
            f"of {money(evidence, r.total_minor)}.",
            item_ids=tuple(sorted(set(r.item_ids) - known)),
            amount_minor=r.total_minor,
        )
        for r in rung
        if set(r.item_ids) - known
    ]


def _too_often(evidence: Evidence, rung: list[RingUp]) -> list[Finding]:
    pieces = {piece.item_id: piece for piece in evidence.pieces}
    count = Counter(item for r in rung for item in r.item_ids)
    return [
        Finding(
            code="rung-up-twice",
            sentence=f"{piece_name(pieces[item])} was rung up {number} times, more often than "
            "there were of it; one is a mistake.",
            item_ids=(item,),
        )
        for item, number in sorted(count.items())
        if item in pieces and number > max(pieces[item].quantity, 1)
    ]
