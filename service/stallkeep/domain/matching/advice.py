"""Which habit would have helped most: the event once more, with the evidence it would have left."""

from __future__ import annotations

from collections import defaultdict

import msgspec

from stallkeep.domain.matching.engine import reconcile
from stallkeep.domain.matching.problem import line_order
from stallkeep.domain.matching.types import (
    Budget,
    Evidence,
    HabitNote,
    Reconciliation,
    Stub,
)

QUICK = Budget(effort=0.5)
SENTENCES = {
    "codes_in_notes": "Typing the tag code beside each payment would have settled {}.",
    "stubs": "Keeping the stubs in order would have settled {}.",
    "count": "Counting what came home would have settled {}.",
}


def habit_note(evidence: Evidence, done: Reconciliation, threshold: float = 0.99) -> HabitNote:
    """Say which habit would have settled most takings, and how much.

    Takes the likeliest pieces of each line for the truth, adds what each habit would have left
    behind, and runs again; so the figure is an estimate.
    """
    sold = _likeliest(done)
    now = _settled(evidence, done)
    best, most = "none", now
    for habit, changed in (
        ("codes_in_notes", _with_codes(evidence, sold)),
        ("stubs", _with_stubs(evidence, sold)),
        ("count", _with_count(evidence, sold)),
    ):
        then = _settled(evidence, reconcile(changed, threshold=threshold, budget=QUICK))
        if then > most:
            best, most = habit, then
    unit = evidence.unit_minor
    figure = f"{most / unit:.2f} of takings instead of {now / unit:.2f}"
    sentence = SENTENCES[best].format(figure) if best != "none" else "Nothing more is needed."
    return HabitNote(habit=best, sentence=sentence, settled_now_minor=now, settled_then_minor=most)


def _likeliest(done: Reconciliation) -> dict[str, tuple[str, ...]]:
    """A joint guess: each line its likeliest set of pieces nobody took before."""
    used: set[str] = set()
    out: dict[str, tuple[str, ...]] = {}
    for answer in sorted(done.answers, key=lambda a: (-a.probability, a.transaction_id)):
        for candidate in answer.candidates:
            if candidate.item_ids and not used & set(candidate.item_ids):
                out[answer.transaction_id] = candidate.item_ids
                used |= set(candidate.item_ids)
                break
    return out


def _settled(evidence: Evidence, done: Reconciliation) -> int:
    matched = {a.transaction_id for a in done.answers if a.state == "matched"}
    return sum(
        line.amount_minor
        for line in evidence.lines
        if line.transaction_id in matched and line.kind != "refund"
    )


def _with_codes(evidence: Evidence, sold: dict[str, tuple[str, ...]]) -> Evidence:
    code = {p.item_id: p.tag_code or "" for p in evidence.pieces}
    lines = []
    for line in evidence.lines:
        codes = " ".join(code[item] for item in sold.get(line.transaction_id, ()))
        note = f"{line.note or ''} {codes}".strip() or None
        lines.append(msgspec.structs.replace(line, note=note))
    return msgspec.structs.replace(evidence, lines=tuple(lines))


def _with_stubs(evidence: Evidence, sold: dict[str, tuple[str, ...]]) -> Evidence:
    code = {p.item_id: p.tag_code for p in evidence.pieces}
    place: dict[object, int] = defaultdict(int)
    stubs = []
    for line in sorted(evidence.lines, key=line_order):
        for item in sold.get(line.transaction_id, ()):
            kept = code[item]
            if kept:
                day = line.occurred_on
                stubs.append(Stub(code=kept, day=day, position=place[day]))
                place[day] += 1
    return msgspec.structs.replace(evidence, stubs=tuple(stubs), stubs_kept_on=None)


def _with_count(evidence: Evidence, sold: dict[str, tuple[str, ...]]) -> Evidence:
    gone: dict[str, int] = defaultdict(int)
    for items in sold.values():
        for item in items:
            gone[item] += 1
    pieces = tuple(
        msgspec.structs.replace(p, counted_home=max(p.quantity - gone[p.item_id], 0))
        for p in evidence.pieces
    )
    return msgspec.structs.replace(evidence, pieces=pieces)
