"""Refunds: which payment each one gives back, and which pieces it may set free."""

from __future__ import annotations

from collections.abc import Mapping

from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.line_answer import Candidate, LineAnswer
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.reconciliation import Finding


def answer_refunds(
    evidence: Evidence, answers: Mapping[str, LineAnswer]
) -> tuple[dict[str, LineAnswer], list[Finding]]:
    """Answer every refund line that has no answer yet.

    A refund that names its payment is certain; else the payments of the same amount before it
    are offered, alike. Whether the piece came back is a question, put as a finding.
    """
    out: dict[str, LineAnswer] = {}
    findings: list[Finding] = []
    used: set[str] = set()
    lines = {line.transaction_id: line for line in evidence.lines}
    refunds = [x for x in lines.values() if x.kind == "refund" and x.transaction_id not in answers]
    for refund in sorted(refunds, key=lambda x: (x.related_id is None, x.transaction_id)):
        found = [t for t in _payments_of(refund, lines) if t not in used]
        answer = _answer(refund, found, certain=refund.related_id in lines)
        out[refund.transaction_id] = answer
        if len(found) == 1:
            used.add(found[0])
            findings.append(_was_it_returned(refund, answers.get(found[0])))
    return out, findings


def _payments_of(refund: MoneyLine, lines: Mapping[str, MoneyLine]) -> list[str]:
    if refund.related_id in lines:
        return [str(refund.related_id)]
    wanted = abs(refund.amount_minor)
    same = [
        line
        for line in lines.values()
        if line.kind != "refund"
        and line.completed
        and line.amount_minor == wanted
        and line.occurred_on <= refund.occurred_on
        and (not refund.method or not line.method or line.method == refund.method)
        and (
            line.occurred_at is None
            or refund.occurred_at is None
            or line.occurred_at <= refund.occurred_at
        )
    ]
    return sorted(line.transaction_id for line in same)


def _answer(refund: MoneyLine, found: list[str], *, certain: bool) -> LineAnswer:
    if not found:
        return LineAnswer(
            transaction_id=refund.transaction_id,
            state="unmatched",
            reason="no payment of this amount came before it",
        )
    share = 1.0 / len(found)
    candidates = tuple(
        Candidate(explanation="refund_of", probability=share, related_id=t) for t in found[:5]
    )
    settled = len(found) == 1
    return LineAnswer(
        transaction_id=refund.transaction_id,
        state="matched" if settled and certain else "proposed",
        probability=share,
        reason=_reason(len(found), certain=certain),
        candidates=candidates,
        related_id=found[0] if settled else None,
        certain=certain,
    )


def _reason(number: int, *, certain: bool) -> str:
    if certain:
        return "it names the payment it gives back"
    if number == 1:
        return "the only payment of this amount before it"
    return f"{number} payments of this amount came before it"


def _was_it_returned(refund: MoneyLine, payment: LineAnswer | None) -> Finding:
    items = payment.item_ids if payment else ()
    return Finding(
        code="refunded-piece-back",
        sentence="This sale was refunded: is the piece back on the rail?",
        transaction_ids=(refund.transaction_id, *([payment.transaction_id] if payment else [])),
        item_ids=items,
        amount_minor=refund.amount_minor,
    )
