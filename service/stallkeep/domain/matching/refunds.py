"""Refunds: which payment each one gives back, and which pieces it may set free."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.line_answer import Candidate, LineAnswer
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.naming import line_name, piece_name
from stallkeep.domain.matching.reconciliation import Finding

OF_ITS_AMOUNT = 0.9  # of refunds that name no payment; the others are part of a payment's amount
CHARGED_TWICE = 20.0  # times that a second charge is given back more often than a sale
OFFERED = 5
# All three common practice, no source.


def answer_refunds(
    evidence: Evidence, answers: Mapping[str, LineAnswer]
) -> tuple[dict[str, LineAnswer], list[Finding]]:
    """Answer every refund line that has no answer yet.

    A refund that names its payment is certain; else the payments of the same amount before it
    are offered, those that may be charged twice first. Whether the piece came back is a question,
    put as a finding until a person has said which payment it was, or that a piece is back.
    """
    out: dict[str, LineAnswer] = {}
    findings: list[Finding] = []
    lines = {line.transaction_id: line for line in evidence.lines}
    used = {str(answers[x].related_id) for x, line in lines.items()
            if line.kind == "refund" and x in answers and answers[x].related_id}  # fmt: skip
    refunds = [x for x in lines.values() if x.kind == "refund" and x.transaction_id not in answers]
    for refund in sorted(refunds, key=lambda x: (x.related_id not in lines, x.transaction_id)):
        certain = refund.related_id in lines
        found = [str(refund.related_id)] if certain else _payments_of(refund, lines, used)
        answer = _answer(refund, found, answers, certain=certain)
        out[refund.transaction_id] = answer
        if answer.related_id is not None:
            used.add(answer.related_id)
            if answer.related_id not in evidence.returned_of:
                payment = answers.get(answer.related_id)
                findings.append(_was_it_returned(evidence, refund, payment))
    return out, [*findings, *_beyond_their_payment(lines)]


def _payments_of(
    refund: MoneyLine, lines: Mapping[str, MoneyLine], used: Collection[str]
) -> list[str]:
    wanted = abs(refund.amount_minor)
    same = [
        line
        for line in lines.values()
        if line.kind != "refund"
        and line.completed
        and line.transaction_id not in used
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


def _answer(
    refund: MoneyLine, found: Sequence[str], answers: Mapping[str, LineAnswer], *, certain: bool
) -> LineAnswer:
    if not found:
        return LineAnswer(
            transaction_id=refund.transaction_id,
            state="unmatched",
            reason="no payment of this amount came before it",
        )
    weight = {t: 1.0 + CHARGED_TWICE * _charged_twice(answers.get(t)) for t in found}
    scale = (1.0 if certain else OF_ITS_AMOUNT) / sum(weight.values())
    ranked = sorted(found, key=lambda t: (-round(weight[t], 9), t))
    candidates = tuple(
        Candidate(explanation="refund_of", probability=weight[t] * scale, related_id=t)
        for t in ranked[:OFFERED]
    )
    return LineAnswer(
        transaction_id=refund.transaction_id,
        state="matched" if certain else "proposed",
        probability=candidates[0].probability,
        reason=_reason(len(found), certain=certain),
        candidates=candidates,
        related_id=ranked[0] if len(found) == 1 else None,
        certain=certain,
    )


def _charged_twice(payment: LineAnswer | None) -> float:
    """How sure it is that a payment should never have been taken."""
    if payment is None:
        return 0.0
    if payment.state == "set_aside":
        return 1.0
    double = (c.probability for c in payment.candidates if c.explanation == "double_charge")
    return sum(double)


def _reason(number: int, *, certain: bool) -> str:
    if certain:
        return "it names the payment it gives back"
    if number == 1:
        return "the only payment of this amount before it"
    return f"{number} payments of this amount came before it"


def _was_it_returned(evidence: Evidence, refund: MoneyLine, payment: LineAnswer | None) -> Finding:
    items = payment.item_ids if payment else ()
    names = [piece_name(piece) for piece in evidence.pieces if piece.item_id in items]
    what = ", ".join(names) or "what was sold"
    return Finding(
        code="refunded-piece-back",
        sentence=f"{line_name(evidence, refund)} was given back: is {what} back, too?",
        transaction_ids=(refund.transaction_id, *([payment.transaction_id] if payment else [])),
        item_ids=items,
        amount_minor=refund.amount_minor,
    )


def _beyond_their_payment(lines: Mapping[str, MoneyLine]) -> list[Finding]:
    """Payments of which refunds that name them give back more than was paid."""
    of: dict[str, list[MoneyLine]] = {}
    for line in lines.values():
        if line.kind == "refund" and line.related_id in lines:
            of.setdefault(str(line.related_id), []).append(line)
    return [
        Finding(
            code="refunded-beyond-payment",
            sentence="More was given back for a payment than was paid: look at its refunds.",
            transaction_ids=(payment, *sorted(x.transaction_id for x in refunds)),
            amount_minor=back - lines[payment].amount_minor,
        )
        for payment, refunds in sorted(of.items())
        if (back := sum(abs(x.amount_minor) for x in refunds)) > lines[payment].amount_minor
    ]
