"""The few checks that would settle most.

Whether a piece is still there is, but for pieces that left without a payment, a function of the
joint assignment; so what its answer tells about all lines together has a closed form:
H(answer) - H(answer | assignment). The number of pieces a line was for is such a function
outright, and tells its whole entropy. These are the bits of a question. Most of them say little
about any one payment, so questions are ranked by the takings they are expected to settle
(``question_worth.py``), and by bits only where that is equal.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.line_answer import LineAnswer
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.naming import code_name, line_name, money, piece_name
from stallkeep.domain.matching.question_worth import Worth
from stallkeep.domain.matching.reconciliation import Question, Reconciliation
from stallkeep.domain.matching.settled import SETTLING

WORTH_ASKING = 0.05  # bits
CAME_BACK_BITS = 1.0  # whether a piece came back with a refund: nothing is known of it
MOST_LOOKED_FOR = 8  # pieces of one price that one look at the rail can tell


def questions(evidence: Evidence, reconciliation: Reconciliation, most: int = 10) -> list[Question]:
    """Rank the checks worth making.

    Args:
        evidence: What the run was given.
        reconciliation: Its answer.
        most: Questions handed back at most.

    Returns:
        Best first; ask the first, run again with the answer, and ask anew.
    """
    worth = Worth(evidence, reconciliation)
    looks = _still_here(evidence, reconciliation)
    asked = [
        *_which_here(evidence, looks, worth),
        *looks,
        *_how_many(evidence, reconciliation),
        *_given_back(evidence, reconciliation),
    ]
    good = [question for question in asked if question.bits >= WORTH_ASKING]
    good.sort(key=lambda question: _rank(question, worth))
    return good[:most]


def _rank(question: Question, worth: Worth) -> tuple[object, ...]:
    names = (question.item_ids, question.item_id or "", question.transaction_id or "")
    return (-round(worth.of(question), 3), -round(question.bits, 9), question.kind, *names)


def entropy(*shares: float) -> float:
    """Bits of a distribution; the shares need not sum to 1."""
    whole = sum(shares)
    return -sum(s / whole * math.log2(s / whole) for s in shares if s > 0) if whole > 0 else 0.0


def _still_here(evidence: Evidence, reconciliation: Reconciliation) -> list[Question]:
    known = {ruling.item_id for ruling in evidence.piece_rulings}
    answer = {piece.item_id: piece for piece in reconciliation.pieces}
    out = []
    for piece in evidence.pieces:
        if piece.item_id in known or piece.item_id not in answer:
            continue
        sold = min(answer[piece.item_id].sold, 1.0)
        here = 1.0 - answer[piece.item_id].gone
        here_unsold = min(here / (1 - sold), 1.0) if sold < 1 else 0.0
        bits = entropy(here, 1 - here) - (1 - sold) * entropy(here_unsold, 1 - here_unsold)
        out.append(
            Question(
                kind="still_here",
                sentence=f"Is the {piece_name(piece)} still there?",
                bits=max(bits, 0.0),
                item_id=piece.item_id,
                probability=here,
            )
        )
    return out


def _which_here(evidence: Evidence, looks: Sequence[Question], worth: Worth) -> list[Question]:
    """Join the looks at pieces of one price: they hang together and are found in one place.

    The bits are the sum over the pieces, less what the number that is gone would tell by itself:
    the pieces are not free of each other, the lines know about how many are gone.
    """
    price = {piece.item_id: piece.price_minor for piece in evidence.pieces}
    by_price: dict[int, list[Question]] = defaultdict(list)
    for look in looks:
        if look.item_id and price[look.item_id] and look.bits > 0:
            by_price[price[look.item_id] or 0].append(look)
    out = []
    for minor, own in sorted(by_price.items()):
        own.sort(key=lambda look: _rank(look, worth))
        chosen = own[:MOST_LOOKED_FOR]
        if len(chosen) > 1:
            out.append(_one_look(evidence, minor, chosen))
    return out


def _one_look(evidence: Evidence, minor: int, looks: Sequence[Question]) -> Question:
    name = {
        p.item_id: code_name(p.tag_code) if p.tag_code else p.title or p.item_id
        for p in evidence.pieces
    }
    codes = ", ".join(sorted(name[look.item_id or ""] for look in looks))
    spread = sum(look.probability * (1 - look.probability) for look in looks)
    number = 0.5 * math.log2(1 + 2 * math.pi * math.e * spread)
    return Question(
        kind="which_here",
        sentence=f"Which of these at {money(evidence, minor)} are still there: {codes}?",
        bits=max(sum(look.bits for look in looks) - number, *(look.bits for look in looks)),
        item_ids=tuple(sorted(look.item_id or "" for look in looks)),
        probability=math.prod(look.probability for look in looks),
    )


def _how_many(evidence: Evidence, reconciliation: Reconciliation) -> list[Question]:
    lines = {line.transaction_id: line for line in evidence.lines}
    told = {r.transaction_id for r in evidence.rulings if r.verdict == "count"}
    out = []
    for answer in reconciliation.answers:
        if answer.state != "proposed" or answer.transaction_id in told:
            continue
        sizes = _sizes(answer)
        line = lines[answer.transaction_id]
        out.append(
            Question(
                kind="how_many",
                sentence=f"How many pieces was the {line_name(evidence, line)} for?",
                bits=entropy(*sizes.values()),
                transaction_id=answer.transaction_id,
                probability=sizes.get(1, 0.0),
            )
        )
    return out


def _given_back(evidence: Evidence, reconciliation: Reconciliation) -> list[Question]:
    """Ask of each refund what came back with it, and which payment it was where that is open."""
    lines = {line.transaction_id: line for line in evidence.lines}
    answers = {answer.transaction_id: answer for answer in reconciliation.answers}
    said = {r.transaction_id for r in evidence.rulings if r.verdict in SETTLING}
    out = []
    for answer in reconciliation.answers:
        line = lines[answer.transaction_id]
        if line.kind != "refund" or answer.transaction_id in said:
            continue
        best = answer.candidates[0] if answer.candidates else None
        related = best.related_id if best else None
        if answer.certain and related in evidence.returned_of:
            continue
        payment = answers.get(str(related))
        pieces = payment.item_ids if payment and answer.related_id else ()
        out.append(
            Question(
                kind="given_back",
                sentence=_refund_sentence(evidence, line, answer, pieces),
                bits=_which_payment(evidence, answer) + CAME_BACK_BITS,
                item_ids=tuple(sorted(set(pieces))),
                transaction_id=answer.transaction_id,
                related_id=related,
                probability=best.probability if best else 0.0,
            )
        )
    return out


def _which_payment(evidence: Evidence, answer: LineAnswer) -> float:
    """Bits of which payment a refund gives back; what no candidate has is spread over them all."""
    shares = [candidate.probability for candidate in answer.candidates]
    rest = max(1.0 - sum(shares), 0.0)
    others = sum(line.kind != "refund" for line in evidence.lines) - len(shares)
    return entropy(*shares, rest) + rest * math.log2(max(others, 1))


def _refund_sentence(
    evidence: Evidence, line: MoneyLine, answer: LineAnswer, pieces: Sequence[str]
) -> str:
    refund = line_name(evidence, line)
    names = [piece_name(piece) for piece in evidence.pieces if piece.item_id in pieces]
    what = ", ".join(names) or "what was sold"
    if answer.certain:
        return f"{refund} was given back: did {what} come back, too?"
    if answer.related_id is None:
        return f"Which payment did the refund of {refund} give back, and what came back with it?"
    payment = next(x for x in evidence.lines if x.transaction_id == answer.related_id)
    return (
        f"Did the refund of {refund} give back the payment of {line_name(evidence, payment)}, "
        f"and did {what} come back?"
    )


def _sizes(answer: LineAnswer) -> dict[int, float]:
    return dict(enumerate(answer.sizes)) if answer.sizes else defaultdict(float)
