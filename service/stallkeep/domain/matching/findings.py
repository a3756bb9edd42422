"""Contradictions in the evidence: listed, never in the way of a run."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.line_answer import LineAnswer
from stallkeep.domain.matching.reconciliation import Finding, PieceAnswer
from stallkeep.domain.tag_codes import normalise

LOOK_NOW = 0.3


def contradictions(evidence: Evidence) -> list[Finding]:
    """Everything that cannot all be true, in a stable order."""
    found = [
        *_stubs(evidence),
        *_counts(evidence),
        *_lines(evidence),
        *_rulings(evidence),
    ]
    return sorted(found, key=lambda f: (f.code, f.transaction_ids, f.item_ids, f.sentence))


def _stubs(evidence: Evidence) -> Iterator[Finding]:
    pieces = {normalise(p.tag_code): p for p in evidence.pieces if p.tag_code}
    kept = Counter(normalise(stub.code) for stub in evidence.stubs)
    for code, number in kept.items():
        piece = pieces.get(code)
        if piece is None:
            yield Finding(
                code="stub-of-unknown-piece",
                sentence=f"A stub says {code}, and no piece on the rail has that code.",
            )
        elif number > max(piece.quantity, 1):
            yield Finding(
                code="more-stubs-than-pieces",
                sentence=f"{number} stubs say {code}; there were {piece.quantity} of it.",
                item_ids=(piece.item_id,),
            )
        elif piece.counted_home is not None and piece.counted_home > piece.quantity - number:
            yield Finding(
                code="stub-and-count-disagree",
                sentence=f"The stub of {code} was kept and the piece was counted home.",
                item_ids=(piece.item_id,),
            )


def _counts(evidence: Evidence) -> Iterator[Finding]:
    for piece in evidence.pieces:
        if piece.counted_home is not None and piece.counted_home > max(piece.quantity, 1):
            yield Finding(
                code="counted-more-than-taken",
                sentence=f"Counted {piece.counted_home}, taken {piece.quantity}.",
                item_ids=(piece.item_id,),
            )
        if piece.price_minor is None or piece.price_minor <= 0:
            yield Finding(
                code="piece-without-price",
                sentence="A piece has no tag price; amounts cannot point to it.",
                item_ids=(piece.item_id,),
            )


def _lines(evidence: Evidence) -> Iterator[Finding]:
    for line in evidence.lines:
        if evidence.days and line.occurred_on not in evidence.days:
            yield Finding(
                code="day-outside-event",
                sentence=f"A line of {line.occurred_on} is not on a day of the event.",
                transaction_ids=(line.transaction_id,),
                amount_minor=line.amount_minor,
            )


def _rulings(evidence: Evidence) -> Iterator[Finding]:
    lines = {line.transaction_id for line in evidence.lines}
    home = {r.item_id: r.still_here for r in evidence.piece_rulings}
    quantity = {p.item_id: max(p.quantity, 1) for p in evidence.pieces}
    said = {(r.item_id, r.still_here) for r in evidence.piece_rulings}
    for item, number in sorted(Counter(item for item, _ in said).items()):
        if number > 1:
            yield Finding(
                code="looks-contradict",
                sentence="Two answers about this piece contradict each other.",
                item_ids=(item,),
            )
    for ruling in evidence.rulings:
        if ruling.transaction_id not in lines:
            yield Finding(
                code="answer-about-unknown-line",
                sentence="An answer is about a payment that is not here any more.",
                transaction_ids=(ruling.transaction_id,),
            )
        if ruling.verdict != "confirmed":
            continue
        for item, count in sorted(Counter(ruling.item_ids).items()):
            if item in home and item in quantity and count > quantity[item] - home[item]:
                yield Finding(
                    code="confirmed-but-still-here",
                    sentence="You confirmed its sale, and somebody saw it still there.",
                    transaction_ids=(ruling.transaction_id,),
                    item_ids=(item,),
                )


def probable_double_sales(pieces: Sequence[PieceAnswer]) -> list[Finding]:
    """Pieces that were probably sold here and elsewhere."""
    return [
        Finding(
            code="probably-sold-twice",
            sentence="Probably sold here and on another channel: look now.",
            item_ids=(piece.item_id,),
            probability=piece.double_sale,
        )
        for piece in pieces
        if piece.double_sale >= LOOK_NOW
    ]


def double_charges(evidence: Evidence, answers: Sequence[LineAnswer]) -> list[Finding]:
    """Card charges that were probably made twice: money to give back."""
    amount = {line.transaction_id: line.amount_minor for line in evidence.lines}
    return [
        Finding(
            code="probably-charged-twice",
            sentence="Probably charged twice: look, and give the money back.",
            transaction_ids=(answer.transaction_id, str(candidate.related_id)),
            amount_minor=amount[answer.transaction_id],
            probability=candidate.probability,
        )
        for answer in answers
        for candidate in answer.candidates
        if candidate.explanation == "double_charge" and candidate.probability >= LOOK_NOW
    ]
