"""Sales paid in two parts: ``python -m tests.bench.matching.splits [worlds] [first seed] [share]``.

Worlds of several profiles in which now and then a customer pays a round part in cash and the rest
by card, or two customers share on two cards, about a minute apart, one in ten with a note that
says so. Prints how many pairs were told as findings, how many of them are real, the mean stated
probability beside the share that was real, and how many real ones were told.
"""

from __future__ import annotations

import datetime as dt
import random
import sys

import msgspec
from tests.bench.matching.worlds import PROFILES, World, a_world

from stallkeep.domain.matching import MoneyLine
from stallkeep.domain.matching.habits import Beliefs
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.split_payments import split_sales

NAMES = ("easy", "typical", "haggler", "never_haggles")
SHARE = 0.008
TWO_CARDS = 0.25


def parted(world: World, seed: int, share: float) -> tuple[list[MoneyLine], set[frozenset[str]]]:
    """Part some payments; the truth is the pairs."""
    rng = random.Random(seed)  # noqa: S311
    lines: list[MoneyLine] = []
    pairs = set()
    for line in world.evidence.lines:
        part = 500 * rng.randint(1, max(line.amount_minor // 500 - 1, 1))
        if rng.random() >= share or not 0 < part < line.amount_minor or not line.occurred_at:
            lines.append(line)
            continue
        cards = rng.random() < TWO_CARDS
        if cards and rng.random() < 0.5:
            part = line.amount_minor // 2
        other = f"{line.transaction_id}x"
        later = dt.timedelta(seconds=min(rng.expovariate(1 / 60), 350))
        note = "rest" if rng.random() < 0.1 else line.note
        lines.append(
            msgspec.structs.replace(
                line, amount_minor=line.amount_minor - part, method="card", note=note
            )
        )
        lines.append(
            msgspec.structs.replace(
                line,
                transaction_id=other,
                amount_minor=part,
                method="card" if cards else "cash",
                occurred_at=line.occurred_at + later,
                note=None,
            )
        )
        pairs.add(frozenset((line.transaction_id, other)))
    return lines, pairs


def main(worlds: int, first: int, share: float) -> None:
    """Print one row per profile."""
    for name in NAMES:
        told: list[tuple[float, bool]] = []
        real = 0
        for seed in range(first, first + worlds):
            world = a_world(PROFILES[name], seed)
            lines, pairs = parted(world, seed, share)
            evidence = msgspec.structs.replace(world.evidence, lines=tuple(lines))
            problem = Problem(evidence, lines, Beliefs(evidence.habits), taken={}, boosts={})
            found = split_sales(problem, lines)
            told += [(f.probability, frozenset(f.transaction_ids) in pairs) for f in found]
            real += len(pairs)
        right = sum(hit for _, hit in told)
        stated = sum(p for p, _ in told) / max(len(told), 1)
        sys.stdout.write(
            f"{name}: {real} split, {len(told)} told, {right} of them real "
            f"({right / max(len(told), 1):.2f}; stated {stated:.2f}), in {worlds} worlds\n"
        )


if __name__ == "__main__":
    arguments = sys.argv[1:]
    main(
        int((arguments or ["100"])[0]),
        int((arguments[1:] or ["9000"])[0]),
        float((arguments[2:] or [str(SHARE)])[0]),
    )
