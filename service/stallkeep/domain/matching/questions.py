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
from stallkeep.domain.matching.question_worth import Worth
from stallkeep.domain.matching.reconciliation import Question, Reconciliation

WORTH_ASKING = 0.05  # bits
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
        name = " ".join(part for part in (piece.title, piece.tag_code) if part) or piece.item_id
        out.append(
            Question(
                kind="still_here",
                sentence=f"Is the {name} still there?",
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
    name = {p.item_id: p.tag_code or p.title or p.item_id for p in evidence.pieces}
    codes = ", ".join(sorted(name[look.item_id or ""] for look in looks))
    spread = sum(look.probability * (1 - look.probability) for look in looks)
    number = 0.5 * math.log2(1 + 2 * math.pi * math.e * spread)
    return Question(
        kind="which_here",
        sentence=f"Which of these at {_amount(evidence, minor)} are still there: {codes}?",
        bits=max(sum(look.bits for look in looks) - number, *(look.bits for look in looks)),
        item_ids=tuple(sorted(look.item_id or "" for look in looks)),
        probability=math.prod(look.probability for look in looks),
    )


def _amount(evidence: Evidence, minor: int) -> str:
    unit = evidence.unit_minor
    return str(minor) if unit == 1 else f"{minor / unit:.2f}"


def _how_many(evidence: Evidence, reconciliation: Reconciliation) -> list[Question]:
    lines = {line.transaction_id: line for line in evidence.lines}
    told = {r.transaction_id for r in evidence.rulings if r.verdict == "count"}
    out = []
    for answer in reconciliation.answers:
        if answer.state != "proposed" or answer.transaction_id in told:
            continue
        sizes = _sizes(answer)
        line = lines[answer.transaction_id]
        time = f" at {line.occurred_at:%H:%M}" if line.occurred_at else f" of {line.occurred_on}"
        amount = _amount(evidence, line.amount_minor)
        out.append(
            Question(
                kind="how_many",
                sentence=f"How many pieces was the {amount}{time} for?",
                bits=entropy(*sizes.values()),
                transaction_id=answer.transaction_id,
                probability=sizes.get(1, 0.0),
            )
        )
    return out


def _sizes(answer: LineAnswer) -> dict[int, float]:
    return dict(enumerate(answer.sizes)) if answer.sizes else defaultdict(float)
