"""How good, how sure and how honest: one table row per engine and profile."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec
import numpy as np
from tests.bench.matching.worlds import World

from stallkeep.domain.matching import Reconciliation


class Score(msgspec.Struct):
    """Counts over many worlds; shares are computed from them.

    Attributes:
        lines: Lines seen.
        matched, matched_right: Lines matched, and those with exactly the true pieces.
        grouped, grouped_right: Lines matched or given a group that stands, and right ones.
        in_five: Lines whose truth is among the first five candidates.
        top: Pairs (stated probability of the first candidate, was it right).
        lost: Lines without an answer.
        minor_off: Minor units by which the states' sums miss the takings.
        seconds: Of the processor, per world.
    """

    lines: int = 0
    matched: int = 0
    matched_right: int = 0
    grouped: int = 0
    grouped_right: int = 0
    in_five: int = 0
    top: list[tuple[float, bool]] = []
    lost: int = 0
    minor_off: int = 0
    seconds: list[float] = []

    @property
    def precision(self) -> float:
        return self.matched_right / self.matched if self.matched else 1.0

    @property
    def coverage(self) -> float:
        return self.matched / self.lines

    @property
    def group_precision(self) -> float:
        return self.grouped_right / self.grouped if self.grouped else 1.0

    @property
    def group_coverage(self) -> float:
        return self.grouped / self.lines

    @property
    def five(self) -> float:
        return self.in_five / self.lines

    @property
    def brier(self) -> float:
        return float(np.mean([(p - right) ** 2 for p, right in self.top]))

    @property
    def calibration_error(self) -> float:
        return sum(abs(s - r) * n for s, r, n in self.bins()) / max(len(self.top), 1)

    def bins(self, number: int = 10) -> list[tuple[float, float, int]]:
        """(mean stated, share right, count) per tenth of probability."""
        out = []
        for b in range(number):
            inside = [t for t in self.top if b <= t[0] * number < b + 1 or (b == 9 and t[0] >= 1)]
            if inside:
                stated = float(np.mean([p for p, _ in inside]))
                out.append((stated, float(np.mean([r for _, r in inside])), len(inside)))
        return out


def add(score: Score, world: World, result: Reconciliation, seconds: float) -> None:
    """Score one answer."""
    price = {p.item_id: p.price_minor or 0 for p in world.evidence.pieces}
    answers = {a.transaction_id: a for a in result.answers}
    score.seconds.append(seconds)
    by_state = 0
    for line in world.evidence.lines:
        answer = answers.get(line.transaction_id)
        score.lines += 1
        if answer is None:
            score.lost += 1
            continue
        truth = world.truth[line.transaction_id]
        by_state += line.amount_minor
        if answer.state == "matched":
            right = tuple(sorted(answer.item_ids)) == truth
            score.matched += 1
            score.matched_right += right
            score.grouped += 1
            score.grouped_right += right
        elif answer.group is not None:
            score.grouped += 1
            inside = set(truth) <= set(answer.group.item_ids)
            same = sorted(price[i] for i in truth) == sorted(answer.group.tag_prices_minor)
            score.grouped_right += inside and same and bool(truth)
        score.in_five += any(c.item_ids == truth for c in answer.candidates[:5])
        if answer.candidates:
            best = answer.candidates[0]
            score.top.append((best.probability, best.item_ids == truth))
    score.minor_off += abs(sum(x.amount_minor for x in world.evidence.lines) - by_state)


def table(rows: Iterable[tuple[str, str, Score]]) -> str:
    """A Markdown table."""
    out = [
        "| profile | engine | lines | matched | precision | group | group precision | in five "
        "| ECE | Brier | lost | p95 CPU s |",
        "|---|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    for profile, engine, s in rows:
        p95 = float(np.quantile(s.seconds, 0.95))
        out.append(
            f"| {profile} | {engine} | {s.lines} | {s.coverage:.3f} | {s.precision:.4f} "
            f"| {s.group_coverage:.3f} | {s.group_precision:.4f} | {s.five:.3f} "
            f"| {s.calibration_error:.3f} | {s.brier:.3f} | {s.lost} | {p95:.2f} |"
        )
    return "\n".join(out)
