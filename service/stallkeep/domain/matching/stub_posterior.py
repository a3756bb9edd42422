"""From shares of moves to a distribution over sets of pieces, one line at a time."""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from stallkeep.domain.matching.habits import KINDS
from stallkeep.domain.matching.line_problem import EXTRA
from stallkeep.domain.matching.modes import Floats
from stallkeep.domain.matching.posterior import NEGLIGIBLE, LinePosterior, Option
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.stub_line import StubLine
from stallkeep.domain.matching.stub_order import Chain, Shares

LEAST_SHARE = 1e-5
MOST_BESIDE = 20  # pieces without a stub that are named beside stubs, the likeliest


class StubSums:
    """Shares of one line, summed over draws."""

    def __init__(self, line: StubLine) -> None:
        self._line = line
        self._moves: dict[tuple[int, int], float] = defaultdict(float)
        self._mixed: dict[tuple[int, int], float] = defaultdict(float)
        self._outside = 0.0

    def add(self, shares: Shares) -> None:
        """Take in one draw's."""
        for kept, share in ((self._moves, shares.moves), (self._mixed, shares.mixed)):
            rows, places = np.nonzero(share > LEAST_SHARE)
            found = share[rows, places].tolist()
            for row, place, own in zip(rows.tolist(), places.tolist(), found, strict=True):
                kept[row, place] += own
        self._outside += shares.outside

    def posterior(self, chain: Chain, odds: Floats, draws: int) -> LinePosterior:
        """Give the line's explanations.

        Args:
            chain: Its day.
            odds: Per unit, mean likelihood ratio of being sold by a line of that day.
            draws: How many were added.
        """
        problem, line = chain.problem, self._line.line
        sets = self._sets(chain, odds, draws)
        signature = np.zeros(len(line.listed.sizes) + len(EXTRA))
        place = {
            tuple(int(b) for b in row if b >= 0): k for k, row in enumerate(line.listed.members)
        }
        options = []
        for items, probability in sets.items():
            at = place.get(_members(problem, items), -1)
            if at >= 0:
                signature[at] += probability
            options.append(Option("pieces", items, probability, at))
        options += self._without_stub(chain, odds, self._outside / draws, signature)
        options = _merged(options)
        return LinePosterior(
            problem=line,
            options=tuple(o for o in options if o.probability > NEGLIGIBLE or o is options[0]),
            signature=signature,
            unlisted=0.0,
            r_hat=1.0,
            error=0.0,
        )

    def _sets(self, chain: Chain, odds: Floats, draws: int) -> dict[tuple[str, ...], float]:
        moves, pieces = chain.moves, chain.problem.units.pieces
        ids = [pieces[item].item_id for item in chain.items]
        row_of = {int(k): row for row, k in enumerate(moves.plain)}
        sets: dict[tuple[str, ...], float] = {}
        for (k, at), whole in self._moves.items():
            key = tuple(sorted(ids[s] for s in moves.index[k, at, : moves.size[k]]))
            alone = whole - self._mixed.get((row_of.get(k, -1), at), 0.0)
            sets[key] = sets.get(key, 0.0) + max(alone, 0.0) / draws
        for (row, at), share in self._mixed.items():
            k = int(moves.plain[row])
            stubs = [ids[s] for s in moves.index[k, at, : moves.size[k]]]
            for item, part in self._beside(chain, odds, int(chain.totals[k, at])):
                key = tuple(sorted([*stubs, item]))
                sets[key] = sets.get(key, 0.0) + share / draws * part
        return sets

    def _beside(self, chain: Chain, odds: Floats, total: int) -> list[tuple[str, float]]:
        """The pieces without a stub that may stand beside stubs of that total."""
        problem, line = chain.problem, self._line
        own = line.line
        units = own.units
        by_price = line.beside(total, problem.shares, np.ones(len(odds)))
        each = line.loose(np.ones(len(odds)))
        likely = by_price / np.maximum(each, 1e-300)
        weights = own.bundle * chain.without[units] * odds[units] * likely[problem.bucket[units]]
        best = np.argsort(-weights, kind="stable")[:MOST_BESIDE]
        whole = max(float(weights.sum()), 1e-300)
        pieces, item = problem.units.pieces, problem.units.item
        return [
            (pieces[item[units[u]]].item_id, float(weights[u]) / whole)
            for u in best
            if weights[u] > 0
        ]

    def _without_stub(
        self, chain: Chain, odds: Floats, outside: float, signature: Floats
    ) -> list[Option]:
        """Share the probability of "no stub belongs to it" among what could be behind it."""
        problem, line = chain.problem, self._line.line
        loose = odds * (problem.units.stub != 1)
        listed = problem.listed_weights(line, loose, chain.likelihood)
        kind = problem.shares[0]
        extra = line.extra[:2] * np.array(
            [kind[KINDS.index("untagged")], kind[KINDS.index("double_charge")]]
        )
        scale = outside / (float(listed.sum() + extra.sum()) or 1.0)
        options = [Option("untagged", (), float(extra[0]) * scale)]
        if line.twin is not None:
            options.append(Option("double_charge", (), float(extra[1]) * scale))
        own = line.single * loose[line.units]
        bucket = problem.bucket[line.units]
        for k in np.nonzero(listed * scale > NEGLIGIBLE)[0]:
            signature[k] += listed[k] * scale
            if line.listed.sizes[k] > 1:
                continue
            mine = np.nonzero((bucket == line.listed.members[k, 0]) & (own > 0))[0]
            total = float(own[mine].sum())
            for u in mine:
                item = problem.units.pieces[problem.units.item[line.units[u]]].item_id
                probability = float(listed[k]) * scale * float(own[u]) / total
                options.append(Option("pieces", (item,), probability, int(k)))
        return options


def _members(problem: Problem, items: tuple[str, ...]) -> tuple[int, ...]:
    prices = sorted(problem.units.pieces[problem.place[i]].price_minor or 0 for i in items)
    return tuple(int(np.searchsorted(problem.prices, p)) for p in prices)


def _merged(options: list[Option]) -> list[Option]:
    share: dict[tuple[str, tuple[str, ...]], Option] = {}
    for option in options:
        key = (option.explanation, option.item_ids)
        before = share[key].probability if key in share else 0.0
        share[key] = Option(
            option.explanation, option.item_ids, before + option.probability, option.signature
        )
    return sorted(share.values(), key=lambda o: (-o.probability, o.item_ids))
