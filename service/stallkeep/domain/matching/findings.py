"""Contradictions in the evidence, and what should be looked at now. Nothing here stops a run."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.line_answer import LineAnswer
from stallkeep.domain.matching.naming import line_name, money, piece_name
from stallkeep.domain.matching.notes import known_codes_in
from stallkeep.domain.matching.piece_findings import piece_contradictions
from stallkeep.domain.matching.pieces import RailPiece
from stallkeep.domain.matching.reconciliation import Finding, PieceAnswer
from stallkeep.domain.tag_codes import normalise

LOOK_NOW = 0.3
LIKELY = 0.5


def contradictions(evidence: Evidence) -> list[Finding]:
    """Everything that cannot all be true, in a stable order."""
    found = [
        *piece_contradictions(evidence),
        *_lines(evidence),
        *_rulings(evidence),
    ]
    return sorted(found, key=lambda f: (f.code, f.transaction_ids, f.item_ids, f.sentence))


def _lines(evidence: Evidence) -> Iterator[Finding]:
    for line in evidence.lines:
        if evidence.days and line.occurred_on not in evidence.days:
            yield Finding(
                code="day-outside-event",
                sentence=f"{line_name(evidence, line)} is not on a day of the event.",
                transaction_ids=(line.transaction_id,),
                amount_minor=line.amount_minor,
            )


def _rulings(evidence: Evidence) -> Iterator[Finding]:
    lines = {line.transaction_id: line for line in evidence.lines}
    pieces = {piece.item_id: piece for piece in evidence.pieces}
    said = {(r.item_id, r.still_here) for r in evidence.piece_rulings}
    for item, number in sorted(Counter(item for item, _ in said).items()):
        if number > 1 and item in pieces:
            yield Finding(
                code="looks-contradict",
                sentence=f"Two answers about {piece_name(pieces[item])} contradict each other.",
                item_ids=(item,),
            )
    for ruling in evidence.rulings:
        if ruling.transaction_id not in lines:
            yield Finding(
                code="answer-about-unknown-line",
                sentence="An answer is about a payment that is not here any more.",
                transaction_ids=(ruling.transaction_id,),
            )
    yield from _number_and_pieces(evidence)


def _number_and_pieces(evidence: Evidence) -> Iterator[Finding]:
    number = {r.transaction_id: r.pieces for r in evidence.rulings if r.verdict == "count"}
    lines = {line.transaction_id: line for line in evidence.lines}
    for ruling in evidence.rulings:
        said = number.get(ruling.transaction_id)
        if ruling.verdict in {"confirmed", "no_piece"} and said not in {None, len(ruling.item_ids)}:
            line = lines.get(ruling.transaction_id)
            name = line_name(evidence, line) if line else "A payment"
            yield Finding(
                code="number-and-pieces-disagree",
                sentence=f"{name} was said to be for {said}, and then for {len(ruling.item_ids)}.",
                transaction_ids=(ruling.transaction_id,),
                item_ids=tuple(sorted(set(ruling.item_ids))),
            )


def contradicted_answers(evidence: Evidence, answers: Sequence[LineAnswer]) -> list[Finding]:
    """Answers that other evidence speaks against: a note, the count."""
    return [*_codes_of_sold_pieces(evidence, answers), *_matched_but_home(evidence, answers)]


def _matched_but_home(evidence: Evidence, answers: Sequence[LineAnswer]) -> Iterator[Finding]:
    """Pieces that payments are matched to, though the count found them; nobody's word yet."""
    by: dict[str, list[str]] = {}
    for answer in answers:
        for item in answer.item_ids if answer.state == "matched" else ():
            by.setdefault(item, []).append(answer.transaction_id)
    certain = {answer.transaction_id for answer in answers if answer.certain}
    for piece in sorted(evidence.pieces, key=lambda p: p.item_id):
        lines, home = by.get(piece.item_id, []), piece.counted_home or 0
        left = max(max(piece.quantity, 1) - len(lines), 0)
        if home > left and not certain.issuperset(lines):
            yield Finding(
                code="matched-but-counted-home",
                sentence=f"A payment is matched to {piece_name(piece)}, and it was counted home.",
                transaction_ids=tuple(sorted(set(lines))),
                item_ids=(piece.item_id,),
            )


def _codes_of_sold_pieces(evidence: Evidence, answers: Sequence[LineAnswer]) -> list[Finding]:
    """Lines whose note names a piece that others were said to be for, every one of it."""
    codes = {normalise(p.tag_code): p.item_id for p in evidence.pieces if p.tag_code}
    pieces = {piece.item_id: piece for piece in evidence.pieces}
    sold = Counter(item for answer in answers if answer.certain for item in answer.item_ids)
    gone = {item for item, number in sold.items() if number >= max(pieces[item].quantity, 1)}
    settled = {answer.transaction_id for answer in answers if answer.certain}
    found = [
        Finding(
            code="note-names-sold-piece",
            sentence=f"The note of {line_name(evidence, line)} names {piece_name(pieces[item])}, "
            "which was said to be sold to somebody else.",
            transaction_ids=(line.transaction_id,),
            item_ids=(item,),
            amount_minor=line.amount_minor,
        )
        for line in evidence.lines
        if line.kind != "refund" and line.transaction_id not in settled
        for item in known_codes_in(" ".join(filter(None, (line.tag_code, line.note))), codes)
        if item in gone
    ]
    return sorted(found, key=lambda f: (f.transaction_ids, f.item_ids))


def probable_double_sales(
    answers: Sequence[PieceAnswer], pieces: Iterable[RailPiece]
) -> list[Finding]:
    """Pieces that were probably sold here and elsewhere."""
    name = {piece.item_id: piece_name(piece) for piece in pieces}
    return [
        Finding(
            code="probably-sold-twice",
            sentence=f"{name[answer.item_id]} was {_how_sure(answer.double_sale)} "
            "sold here and on another channel: look now.",
            item_ids=(answer.item_id,),
            probability=answer.double_sale,
        )
        for answer in answers
        if answer.double_sale >= LOOK_NOW
    ]


def double_charges(evidence: Evidence, answers: Sequence[LineAnswer]) -> list[Finding]:
    """Card charges that were probably made twice and not given back yet: money to give back."""
    lines = {line.transaction_id: line for line in evidence.lines}
    returned = {
        candidate.related_id
        for answer in answers
        for candidate in answer.candidates
        if candidate.explanation == "refund_of" and candidate.probability >= LIKELY
    }
    returned |= {a.related_id for a in answers if lines[a.transaction_id].kind == "refund"}
    return [
        Finding(
            code="probably-charged-twice",
            sentence=f"{line_name(evidence, lines[answer.transaction_id])} was "
            f"{_how_sure(candidate.probability)} charged twice: look, and give "
            f"{money(evidence, lines[answer.transaction_id].amount_minor)} back if so.",
            transaction_ids=(answer.transaction_id, str(candidate.related_id)),
            amount_minor=lines[answer.transaction_id].amount_minor,
            probability=candidate.probability,
        )
        for answer in answers
        for candidate in answer.candidates
        if candidate.explanation == "double_charge" and candidate.probability >= LOOK_NOW
        if not returned & {answer.transaction_id, candidate.related_id}
    ]


def _how_sure(probability: float) -> str:
    return "probably" if probability >= LIKELY else "perhaps"
