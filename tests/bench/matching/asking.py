"""What ten answers bring: ``python -m tests.bench.matching.asking [worlds] [seed] [profile]``.

An event without a count is reconciled; the best question is answered from the truth, and the
event reconciled again, ten times over. Beside it the same event with a full stock count (that has
the profile's usual slips). Prints shares of the takings: matched to exact pieces, and matched or
at least known by price as a group, in the mean over the worlds; how much of it was wrong; and
how many pieces were asked about.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence

import msgspec
from tests.bench.matching.worlds import PROFILES, World, a_world

from stallkeep.domain.matching import (
    Evidence,
    PieceRuling,
    Question,
    Reconciliation,
    Ruling,
    questions,
    reconcile,
)

ANSWERS = 10


class Settled(msgspec.Struct, frozen=True):
    """Shares of an event's takings."""

    matched: float
    known_by_price: float
    wrong: float


def settled(world: World, result: Reconciliation) -> Settled:
    """Say how much of the takings is settled."""
    amount = {line.transaction_id: line.amount_minor for line in world.evidence.lines}
    whole = sum(amount.values())
    matched = grouped = wrong = 0
    for answer in result.answers:
        paid = amount[answer.transaction_id]
        if answer.state == "matched":
            matched += paid
            wrong += paid * (tuple(sorted(answer.item_ids)) != world.truth[answer.transaction_id])
        elif answer.group is not None:
            grouped += paid
    return Settled(matched / whole, (matched + grouped) / whole, wrong / whole)


def counted(world: World, seed: int, slips: float) -> Evidence:
    """The same event with a stock count."""
    profile = msgspec.structs.replace(world.profile, count=True, count_slip=slips)
    return a_world(profile, seed).evidence


def answered(
    evidence: Evidence, question: Question, home: dict[str, int], world: World
) -> Evidence:
    """Add what a person would say who knows the truth."""
    looks, rulings = list(evidence.piece_rulings), list(evidence.rulings)
    looks += [PieceRuling(item_id=i, still_here=home[i]) for i in asked_about(question)]
    if question.transaction_id is not None:
        pieces = max(len(world.truth[question.transaction_id]), 1)
        rulings.append(
            Ruling(transaction_id=question.transaction_id, verdict="count", pieces=pieces)
        )
    return msgspec.structs.replace(evidence, piece_rulings=tuple(looks), rulings=tuple(rulings))


def asked_about(question: Question) -> Sequence[str]:
    """The pieces somebody has to look for."""
    return question.item_ids or ([question.item_id] if question.item_id else [])


def main(worlds: int, first: int, name: str) -> None:
    """Print one row per stage."""
    stages: dict[str, list[Settled]] = {}
    kinds: Counter[str] = Counter()
    pieces = 0
    for seed in range(first, first + worlds):
        world = a_world(PROFILES[name], seed)
        home = {p.item_id: p.counted_home or 0 for p in counted(world, seed, 0.0).pieces}
        evidence = world.evidence
        result = reconcile(evidence)
        stages.setdefault("before", []).append(settled(world, result))
        for number in range(1, ANSWERS + 1):
            best = questions(evidence, result, most=1)
            if not best:
                break
            kinds[best[0].kind] += 1
            pieces += len(asked_about(best[0]))
            evidence = answered(evidence, best[0], home, world)
            result = reconcile(evidence)
            if number == ANSWERS // 2:
                stages.setdefault("after 5 answers", []).append(settled(world, result))
        stages.setdefault("after 10 answers", []).append(settled(world, result))
        counted_result = reconcile(counted(world, seed, world.profile.count_slip))
        stages.setdefault("with a full count", []).append(settled(world, counted_result))
    sys.stdout.write(f"{name}, {worlds} worlds; asked: {dict(kinds)}, {pieces} pieces in all\n")
    for stage, found in stages.items():
        matched, known, wrong = (
            sum(getattr(s, field) for s in found) / len(found)
            for field in ("matched", "known_by_price", "wrong")
        )
        sys.stdout.write(
            f"{stage}: matched {matched:.3f}, known by price {known:.3f}, wrong {wrong:.4f}\n"
        )


if __name__ == "__main__":
    arguments = sys.argv[1:]
    main(
        int((arguments or ["10"])[0]),
        int((arguments[1:] or ["8000"])[0]),
        (arguments[2:] or ["typical"])[0],
    )
