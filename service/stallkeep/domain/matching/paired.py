"""Sales rung up at the stall and the card payments that can be for nothing else."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from typing import Final

from stallkeep.domain.matching.evidence import RingUp
from stallkeep.domain.matching.money_line import MoneyLine

APART: Final = dt.timedelta(minutes=10)
"""A card payment follows its ring-up, or goes before it, by at most this."""

NOT_BY_CARD: Final = frozenset({"cash", "transfer"})
NOTHING_REFUSED: Final[Mapping[str, Collection[tuple[str, ...]]]] = {}


def pair_ring_ups(
    ring_ups: Iterable[RingUp],
    lines: Iterable[MoneyLine],
    refused: Mapping[str, Collection[tuple[str, ...]]] = NOTHING_REFUSED,
) -> Mapping[str, str]:
    """Pair ring-ups with payments of the same total at the same time, where only one fits.

    A pair is made only when the payment is the one and only that fits the ring-up, and the
    ring-up the one and only that fits the payment; the rest is for the engine to weigh.

    Args:
        ring_ups: That wait for a payment.
        lines: That nobody has settled.
        refused: Transaction id → sets of pieces, sorted, that a person said it was not for.

    Returns:
        Transaction id → ring-up id.
    """
    payments = [line for line in lines if line.kind == "payment" and line.completed]
    fits_line: dict[str, list[str]] = defaultdict(list)
    fits_ring_up: dict[str, list[str]] = defaultdict(list)
    for ring_up in ring_ups:
        for line in payments:
            pieces = tuple(sorted(ring_up.item_ids))
            if _fits(ring_up, line) and pieces not in refused.get(line.transaction_id, ()):
                fits_line[line.transaction_id].append(ring_up.ring_up_id)
                fits_ring_up[ring_up.ring_up_id].append(line.transaction_id)
    return {
        transaction_id: found[0]
        for transaction_id, found in fits_line.items()
        if len(found) == 1 and len(fits_ring_up[found[0]]) == 1
    }


def _fits(ring_up: RingUp, line: MoneyLine) -> bool:
    if line.method in NOT_BY_CARD or ring_up.method in NOT_BY_CARD:
        return False
    if ring_up.occurred_at is None or line.occurred_at is None:
        return False
    paid = line.amount_minor - (line.tip_minor or 0)
    return paid == ring_up.total_minor and abs(ring_up.occurred_at - line.occurred_at) <= APART
