"""One pure function: evidence in, an answer for every line out."""

from __future__ import annotations

from collections import Counter
from functools import cache

from threadpoolctl import ThreadpoolController

from stallkeep.domain.matching.event import explain
from stallkeep.domain.matching.evidence import Budget, Evidence
from stallkeep.domain.matching.reconciliation import Reconciliation

DEFAULT_BUDGET = Budget()


def reconcile(
    evidence: Evidence, *, threshold: float = 0.99, budget: Budget = DEFAULT_BUDGET
) -> Reconciliation:
    """Work out which pieces each line of money was for.

    Pure and deterministic: the same evidence in any order gives the same answer for each line.

    Args:
        evidence: Everything known about the event or channel period.
        threshold: Probability from which a set of pieces counts as matched.
        budget: How much work may be done.

    Returns:
        One answer per line in the order of *evidence.lines*; every line is there once.

    Raises:
        ValueError: Two lines, or two pieces, share an id.
    """
    _refuse_doubled_ids([line.transaction_id for line in evidence.lines], "transaction")
    _refuse_doubled_ids([piece.item_id for piece in evidence.pieces], "item")
    # matrices here are small: threads of the linear algebra cost twice what they save
    with _linear_algebra().limit(limits=1, user_api="blas"):
        return explain(evidence, threshold, budget)


@cache
def _linear_algebra() -> ThreadpoolController:
    return ThreadpoolController()


def _refuse_doubled_ids(ids: list[str], what: str) -> None:
    doubled = [key for key, count in Counter(ids).items() if count > 1]
    if doubled:
        raise ValueError(f"{what} ids occur twice: {sorted(doubled)[:3]}")
