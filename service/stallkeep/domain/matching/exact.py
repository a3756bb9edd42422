"""Joint posterior by full enumeration, for components small enough to list."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import msgspec

Items = tuple[str, ...]


class Joint(msgspec.Struct):
    """Result of an enumeration.

    Attributes:
        marginals: Per line, option index to probability.
        best: Per line, the option of the likeliest joint explanation.
        total: Sum of all joint weights (the permanent, for one-to-one weights).
    """

    marginals: list[list[float]]
    best: list[int]
    total: float


def enumerate_jointly(
    options: Sequence[Sequence[tuple[Items, float]]], quantity: Counter[str]
) -> Joint:
    """Sum over every joint choice in which no item is used beyond its quantity.

    Args:
        options: Per line, item ids and weight of each option; an empty set uses nothing.
        quantity: Units per item id.
    """
    sums = [[0.0] * len(line) for line in options]
    chosen = [0] * len(options)
    best: tuple[float, list[int]] = (-1.0, [])
    left = Counter(quantity)

    def walk(i: int, weight: float) -> float:
        nonlocal best
        if i == len(options):
            if weight > best[0]:
                best = (weight, chosen.copy())
            return weight
        total = 0.0
        for k, (items, own) in enumerate(options[i]):
            need = Counter(items)
            if own <= 0 or any(left[item] < n for item, n in need.items()):
                continue
            left.subtract(need)
            chosen[i] = k
            below = walk(i + 1, weight * own)
            sums[i][k] += below
            total += below
            left.update(need)
        return total

    total = walk(0, 1.0)
    scale = 1.0 / total if total > 0 else 0.0
    return Joint([[s * scale for s in line] for line in sums], best[1], total)


def states(options: Sequence[Sequence[object]]) -> int:
    """Upper bound on the joint choices that enumerate_jointly would visit."""
    out = 1
    for line in options:
        out *= max(len(line), 1)
    return out
