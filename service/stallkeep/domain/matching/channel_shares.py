"""How the sales of a channel share its items: which compete, and each one's posterior."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

from stallkeep.domain.matching.channel_pairs import Pair
from stallkeep.domain.matching.channel_stock import Stock
from stallkeep.domain.matching.exact import enumerate_jointly, states

MOST_STATES = 5_000


def components(pairs: Mapping[str, Sequence[Pair]]) -> list[list[str]]:
    """Lines that compete for an item, together; in a stable order."""
    root: dict[str, str] = {t: t for t in pairs}

    def find(t: str) -> str:
        while root[t] != t:
            root[t] = root[root[t]]
            t = root[t]
        return t

    holder: dict[str, str] = {}
    for t, found in pairs.items():
        for pair in found:
            first = holder.setdefault(pair.item_id, t)
            if first is not t:
                a, b = sorted((find(first), find(t)))
                root[b] = a
    groups: dict[str, list[str]] = defaultdict(list)
    for t in pairs:
        groups[find(t)].append(t)
    return [sorted(group) for group in groups.values()]


def posterior(
    stock: Stock, pairs: Sequence[Sequence[Pair]], taken: Mapping[str, int]
) -> list[list[float]]:
    """Per line, probability per pair, then of none."""
    options = [
        [*(((p.item_id,), 2.0 ** min(p.bits, 60.0)) for p in own), ((), 1.0)] for own in pairs
    ]
    if len(options) > 1 and states(options) <= MOST_STATES:
        items = {p.item_id for own in pairs for p in own}
        left = Counter(
            {i: max(stock.pieces[i].quantity, 1) - taken.get(i, 0) for i in sorted(items)}
        )
        return enumerate_jointly(options, left).marginals
    return _balanced(stock, options, taken) if len(options) > 1 else [_alone(options[0])]


def _alone(options: Sequence[tuple[tuple[str, ...], float]]) -> list[float]:
    whole = sum(weight for _, weight in options)
    return [weight / whole for _, weight in options]


def _balanced(
    stock: Stock,
    options: Sequence[Sequence[tuple[tuple[str, ...], float]]],
    taken: Mapping[str, int],
) -> list[list[float]]:
    """For large components: let each item's demand push down its weight until it fits.

    Iterative proportional scaling (Sinkhorn 1967); it understates nobody's doubt: an item wanted
    twice is shared, so neither line becomes sure.
    """
    pull: dict[str, float] = defaultdict(lambda: 1.0)
    shares: list[list[float]] = []
    for _ in range(20):
        demand: dict[str, float] = defaultdict(float)
        shares = []
        for line in options:
            scaled = [w * (pull[items[0]] if items else 1.0) for items, w in line]
            whole = sum(scaled)
            shares.append([s / whole for s in scaled])
            for (items, _), share in zip(line, shares[-1], strict=True):
                if items:
                    demand[items[0]] += share
        for item, wanted in demand.items():
            there = max(stock.pieces[item].quantity, 1) - taken.get(item, 0)
            if wanted > there:
                pull[item] *= there / wanted
    return shares
