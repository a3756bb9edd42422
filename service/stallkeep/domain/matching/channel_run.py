"""Answers for a channel: all of it, or a closed part with every sale that competes with one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from stallkeep.domain.matching.channel import match_channel
from stallkeep.domain.matching.channel_stock import Stock
from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.findings import probable_double_sales
from stallkeep.domain.matching.line_answer import LineAnswer
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.pieces import RailPiece
from stallkeep.domain.matching.reconciliation import (
    Finding,
    PieceAnswer,
    Reconciliation,
    Report,
)
from stallkeep.domain.matching.refunds import answer_refunds
from stallkeep.domain.matching.settled import SETTLING, Settled


def answer_sales(
    evidence: Evidence, stock: Stock, blocks: Mapping[str, Sequence[str]], threshold: float
) -> Reconciliation:
    """Answer payments and sales; refunds are answered once these are.

    Args:
        evidence: Holds every line that may be of one of its pieces.
        stock: The stock that titles are compared with.
        blocks: Items that a line may be of, by transaction id.
        threshold: Probability from which an item counts as matched.
    """
    settled = Settled(evidence)
    waiting = [x for x in evidence.lines if x.transaction_id not in settled.answers]
    answers = settled.answers | match_channel(
        evidence, waiting, settled.taken, threshold, stock=stock, blocks=blocks
    )
    return _answered(evidence, settled, answers, len(waiting), ())


def explain_channel(
    evidence: Evidence, settled: Settled, waiting: list[MoneyLine], threshold: float
) -> Reconciliation:
    """Answer the lines of a channel all at once, refunds too.

    Args:
        evidence: Everything known about the channel.
        settled: What needs no weighing.
        waiting: Payments and sales that do.
        threshold: Probability from which an item counts as matched.
    """
    answers = settled.answers | match_channel(evidence, waiting, settled.taken, threshold)
    refunds, told = answer_refunds(evidence, answers)
    return _answered(evidence, settled, answers | refunds, len(waiting), told)


def _answered(
    evidence: Evidence,
    settled: Settled,
    answers: Mapping[str, LineAnswer],
    weighed: int,
    told: Sequence[Finding],
) -> Reconciliation:
    ordered = tuple(answers[line.transaction_id] for line in evidence.lines)
    pieces = _piece_answers(evidence.pieces, ordered)
    double = probable_double_sales(pieces, evidence.pieces)
    return Reconciliation(
        answers=ordered,
        findings=(*settled.findings, *told, *double),
        pieces=pieces,
        habits=evidence.habits,
        report=Report(components=weighed, exact=weighed),
    )


def _piece_answers(
    pieces: Sequence[RailPiece], answers: Sequence[LineAnswer]
) -> tuple[PieceAnswer, ...]:
    sold: dict[str, float] = defaultdict(float)
    for answer in answers:
        for candidate in answer.candidates:
            for item in candidate.item_ids:
                sold[item] += candidate.probability
    return tuple(_piece_answer(piece, sold[piece.item_id]) for piece in pieces)


def _piece_answer(piece: RailPiece, sold: float) -> PieceAnswer:
    away = sum(sale.quantity * sale.probability for sale in piece.sold_elsewhere)
    beyond = min(max(sold + away - piece.quantity, 0.0), 1.0) if away else 0.0
    return PieceAnswer(item_id=piece.item_id, sold=sold, gone=min(sold, 1.0), double_sale=beyond)


def answer_given_back(evidence: Evidence, sold: Mapping[str, Sequence[str]]) -> Reconciliation:
    """Answer the refunds of *evidence*, which holds all payments that they may give back.

    A payment that a person said a refund gives back is no other's, and that refund needs no answer.

    Args:
        evidence: Refunds and payments, and what was said of them.
        sold: Pieces that a payment was matched to, by transaction id.
    """
    known = {
        line.transaction_id: LineAnswer(
            transaction_id=line.transaction_id,
            state="matched",
            item_ids=tuple(sold.get(line.transaction_id, ())),
        )
        for line in evidence.lines
        if line.kind != "refund"
    }
    for ruling in evidence.rulings:
        if ruling.verdict in SETTLING:
            known[ruling.transaction_id] = LineAnswer(
                transaction_id=ruling.transaction_id,
                state="matched",
                related_id=ruling.related_id,
            )
    answers, findings = answer_refunds(evidence, known)
    return Reconciliation(answers=tuple(answers.values()), findings=tuple(findings))
