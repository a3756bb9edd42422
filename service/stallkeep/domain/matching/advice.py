"""Which habit would have helped most: the event once more, with the evidence it would have left.

What was sold is drawn from the answer, not taken from its likeliest candidates: those fit the
amounts better than the truth does, and promise too much. Habits leave their evidence with the
slips people make; their shares are common practice, no source.
"""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

import msgspec

from stallkeep.domain.matching.cash_findings import cash_lines
from stallkeep.domain.matching.engine import reconcile
from stallkeep.domain.matching.evidence import Budget, Evidence, Stub
from stallkeep.domain.matching.money_line import MoneyLine, line_order
from stallkeep.domain.matching.reconciliation import HabitNote, Reconciliation
from stallkeep.domain.matching.seed import seed_of

QUICK = Budget(effort=0.5)
STUB_LOST, STUB_SWAPPED, COUNT_SLIP = 0.03, 0.03, 0.015
HARDLY = 0.001  # a piece of which nothing says that it is gone may be gone all the same
SENTENCES = {
    "codes_in_notes": "Typing the tag code beside each payment would have settled about {}.",
    "stubs": "Keeping the stubs in order would have settled about {}.",
    "count": "Counting what came home would have settled about {}.",
    "tally": "A line in the tally for each cash sale would have settled about {}.",
}


def habit_note(evidence: Evidence, done: Reconciliation, threshold: float = 0.99) -> HabitNote:
    """Say which habit would have settled most takings, and how much.

    Draws what each line may have been for, adds what each habit would have left behind, and runs
    again; so the figure is an estimate. The same evidence draws the same.
    """
    rng = random.Random(seed_of(evidence))  # noqa: S311 - no secret
    sold = _drawn(evidence, done, rng)
    now = _settled(evidence, done)
    best, most = "none", now
    kept = {
        "codes_in_notes": _with_codes(evidence, sold),
        "stubs": _with_stubs(evidence, sold, rng),
        "count": _with_count(evidence, sold, rng),
    }
    if tally := _untold_cash(evidence, done, sold, rng):
        kept["tally"] = msgspec.structs.replace(evidence, lines=(*evidence.lines, *tally))
    for habit, changed in kept.items():
        then = _settled(changed, reconcile(changed, threshold=threshold, budget=QUICK))
        if then > most:
            best, most = habit, then
    unit = evidence.unit_minor
    figure = f"{most / unit:.2f} of takings instead of {now / unit:.2f}"
    sentence = SENTENCES[best].format(figure) if best != "none" else "Nothing more is needed."
    return HabitNote(habit=best, sentence=sentence, settled_now_minor=now, settled_then_minor=most)


def _drawn(
    evidence: Evidence, done: Reconciliation, rng: random.Random
) -> dict[str, tuple[str, ...]]:
    """Draw pieces for each line by their probability, none twice; none at all is left out.

    What is not among the candidates is mostly as they are, with other pieces of the same prices.
    """
    left = Counter({p.item_id: max(p.quantity, 1) for p in evidence.pieces})
    price = {p.item_id: p.price_minor for p in evidence.pieces}
    out: dict[str, tuple[str, ...]] = {}
    for answer in sorted(done.answers, key=lambda a: (-a.probability, a.transaction_id)):
        listed = [c for c in answer.candidates if c.probability > 0]
        if not listed:
            continue
        items = rng.choices(listed, [c.probability for c in listed])[0].item_ids
        shown = sum(c.probability for c in listed)
        if rng.random() >= shown or not Counter(items) <= left:
            items = _alike(items, price, left, rng)
        if items:
            out[answer.transaction_id] = items
            left -= Counter(items)
    return out


def _alike(
    items: Sequence[str], price: Mapping[str, int | None], left: Counter[str], rng: random.Random
) -> tuple[str, ...]:
    """Draw other pieces at the prices of these; none where there are not as many."""
    found: Counter[str] = Counter()
    for item in items:
        free = [i for i in sorted(left) if price[i] == price[item] and left[i] > found[i]]
        if not free:
            return ()
        found[rng.choice(free)] += 1
    return tuple(sorted(found.elements()))


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


def _with_stubs(
    evidence: Evidence, sold: dict[str, tuple[str, ...]], rng: random.Random
) -> Evidence:
    code = {p.item_id: p.tag_code for p in evidence.pieces}
    kept: dict[dt.date, list[str]] = defaultdict(list)
    for line in sorted(evidence.lines, key=line_order):
        for item in sold.get(line.transaction_id, ()):
            stub = code[item]
            if stub and rng.random() >= STUB_LOST:
                kept[line.occurred_on].append(stub)
    stubs = []
    for day, codes in sorted(kept.items()):
        for k in range(len(codes) - 1):
            if rng.random() < STUB_SWAPPED:
                codes[k], codes[k + 1] = codes[k + 1], codes[k]
        stubs += [Stub(code=c, day=day, position=k) for k, c in enumerate(codes)]
    return msgspec.structs.replace(evidence, stubs=tuple(stubs), stubs_kept_on=None)


def _with_count(
    evidence: Evidence, sold: dict[str, tuple[str, ...]], rng: random.Random
) -> Evidence:
    gone = Counter(item for items in sold.values() for item in items)
    pieces = []
    for piece in evidence.pieces:
        home = max(piece.quantity - gone[piece.item_id], 0)
        if rng.random() < COUNT_SLIP:
            home = home - 1 if home else 1
        pieces.append(msgspec.structs.replace(piece, counted_home=home))
    return msgspec.structs.replace(evidence, pieces=tuple(pieces))


def _untold_cash(
    evidence: Evidence, done: Reconciliation, sold: dict[str, tuple[str, ...]], rng: random.Random
) -> list[MoneyLine]:
    """Draw the lines that the box has beyond the tally: pieces that are gone, at their tags."""
    told = cash_lines(evidence)
    taken = Counter(item for items in sold.values() for item in items)
    left = Counter({p.item_id: max(p.quantity - taken[p.item_id], 0) for p in evidence.pieces})
    gone = {p.item_id: max(p.gone - min(p.sold, 1.0), HARDLY) for p in done.pieces}
    price = {p.item_id: p.price_minor or 0 for p in evidence.pieces}
    out: list[MoneyLine] = []
    for total in sorted(evidence.cash_totals, key=lambda t: t.day):
        rest = total.total_minor - told[total.day]
        while free := [i for i in sorted(gone) if left[i] > 0 and 0 < price[i] <= rest]:
            item = rng.choices(free, [gone[i] for i in free])[0]
            left[item] -= 1
            rest -= price[item]
            out.append(
                MoneyLine(
                    transaction_id=f"untold {len(out)}",
                    amount_minor=price[item],
                    occurred_on=total.day,
                    method="cash",
                )
            )
    return out
