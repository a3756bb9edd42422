"""Payments that may be another one charged a second time by mistake."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from stallkeep.domain.matching.line_problem import EXTRA, LineProblem

DOUBLE_WITHIN = dt.timedelta(minutes=6)
DOUBLE_SPEEDUP = 6.0  # a doubled charge follows that much closer than the next customer would


def find_twins(lines: Sequence[LineProblem]) -> None:
    """Point each line to the nearest earlier one that it may repeat by mistake."""
    for i, late in enumerate(lines):
        for j in range(i - 1, -1, -1):
            early = lines[j]
            if late.line.occurred_at is None or early.line.occurred_at is None:
                break
            if late.line.occurred_at - early.line.occurred_at > DOUBLE_WITHIN:
                break
            same = late.line.amount_minor == early.line.amount_minor
            if same and late.line.method == early.line.method == "card":
                late.twin = early.line.transaction_id
                late.extra[EXTRA.index("double_charge")] = DOUBLE_SPEEDUP
                break
