"""The few checks that would settle most, by expected information.

Whether a piece is still there is, but for pieces that left without a payment, a function of the
joint assignment; so what its answer tells about all lines together has a closed form:
H(answer) - H(answer | assignment). The number of pieces a line was for is such a function
outright, and tells its whole entropy.
"""

from __future__ import annotations

import math
from collections import defaultdict

from stallkeep.domain.matching.types import Evidence, LineAnswer, Question, Reconciliation

WORTH_ASKING = 0.05  # bits


def questions(evidence: Evidence, reconciliation: Reconciliation, most: int = 10) -> list[Question]:
    """Rank the checks worth making.

    Args:
        evidence: What the run was given.
        reconciliation: Its answer.
        most: Questions handed back at most.

    Returns:
        Best first; ask the first, run again with the answer, and ask anew.
    """
    asked = [*_still_here(evidence, reconciliation), *_how_many(evidence, reconciliation)]
    good = [q for q in asked if q.bits >= WORTH_ASKING]
    good.sort(key=lambda q: (-round(q.bits, 9), q.kind, q.item_id or "", q.transaction_id or ""))
    return good[:most]


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
        unit = evidence.unit_minor
        amount = str(line.amount_minor) if unit == 1 else f"{line.amount_minor / unit:.2f}"
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
