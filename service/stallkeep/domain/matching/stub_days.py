"""Days with stubs in order, answered whole: habits learned, then one posterior per line."""

from __future__ import annotations

import numpy as np

from stallkeep.domain.matching.habits import KINDS
from stallkeep.domain.matching.modes import Floats
from stallkeep.domain.matching.piece_evidence import sold_odds
from stallkeep.domain.matching.posterior import NEGLIGIBLE, LinePosterior, Option
from stallkeep.domain.matching.problem import EXTRA, LineProblem, Problem, SetLikelihood
from stallkeep.domain.matching.stub_order import SWAPPED, Chain, StubSets, days_in_order

SWAP_PRIOR = 30.0  # stubs the prior on swaps is worth
ROUNDS = 4  # of expectation and maximisation; habits move little after the third


def solve_days(
    problem: Problem,
    likelihood: SetLikelihood | None = None,
    *,
    learn: bool = True,
) -> list[LinePosterior]:
    """Answer the lines of days whose stubs have an order; others are not in the result."""
    days = days_in_order(problem)
    if not days:
        return []
    chances = {name: problem.beliefs.chance(name) for name in problem.beliefs.chances}
    odds = sold_odds(problem.units, chances)
    swapped = SWAPPED
    sets: list[StubSets] = []
    for _ in range(ROUNDS if learn else 1):
        sets = []
        for indices, stubs in days.values():
            lines = [problem.lines[i] for i in indices]
            sets += Chain(problem, lines, stubs, odds, likelihood, swapped=swapped).solve()
        if learn:
            _maximise(problem, sets)
            swapped = (SWAPPED * SWAP_PRIOR + sum(s.swapped for s in sets)) / (
                SWAP_PRIOR + sum(s.taken for s in sets)
            )
            number = sum(len(stubs) for _, stubs in days.values())
            chances |= _learned_chances(problem, sets, number)
            odds = sold_odds(problem.units, chances)
    problem.believe(*problem.shares, odds)
    return [_posterior(problem, found, odds, likelihood) for found in sets]


def by_order_lines(solved: list[LinePosterior]) -> frozenset[str]:
    """Transaction ids of the lines answered."""
    return frozenset(p.problem.line.transaction_id for p in solved)


def _learned_chances(problem: Problem, sets: list[StubSets], stubs: int) -> dict[str, float]:
    """Share of pieces gone without a line, and of stubs lost, given the chains now."""
    taken = sum(s.taken for s in sets)
    loose = sum(s.mixed + s.outside / 2 for s in sets)
    yes, no = problem.beliefs.chances["gone_without_line"]
    rest = max(len(problem.units) - taken - loose, 0.0)
    lost_yes, lost_no = problem.beliefs.chances["stub_lost"]
    return {
        "gone_without_line": (yes + max(stubs - taken, 0.0)) / (yes + no + rest),
        "stub_lost": (lost_yes + loose) / (lost_yes + lost_no + taken + loose),
    }


def _maximise(problem: Problem, sets: list[StubSets]) -> None:
    beliefs = problem.beliefs
    kind = beliefs.kind + np.sum([s.size_gain for s in sets], axis=0)
    untagged = sum(s.outside for s in sets) / 2  # the rest are pieces whose stub was lost
    kind[KINDS.index("untagged")] += untagged
    one = beliefs.one + np.sum([s.single_gain for s in sets], axis=0)
    many = beliefs.many + np.sum([s.many_gain for s in sets], axis=0)
    problem.shares = (kind / kind.sum(), one / one.sum(), many / many.sum())


def _posterior(
    problem: Problem, found: StubSets, odds: Floats, likelihood: SetLikelihood | None
) -> LinePosterior:
    line = found.line
    signature = np.zeros(len(line.listed.sizes) + len(EXTRA))
    place = {tuple(int(b) for b in row if b >= 0): k for k, row in enumerate(line.listed.members)}
    options = []
    for items, probability in found.sets.items():
        at = place.get(_members(problem, items), -1)
        if at >= 0:
            signature[at] += probability
        options.append(Option("pieces", items, probability, at))
    options += _without_stub(
        problem, line, found.outside, odds=odds, likelihood=likelihood, signature=signature
    )
    options = _merged(options)
    return LinePosterior(
        problem=line,
        options=tuple(o for o in options if o.probability > NEGLIGIBLE or o is options[0]),
        signature=signature,
        unlisted=0.0,
        r_hat=1.0,
        error=0.0,
    )


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


def _without_stub(
    problem: Problem,
    line: LineProblem,
    outside: float,
    *,
    odds: Floats,
    likelihood: SetLikelihood | None,
    signature: Floats,
) -> list[Option]:
    """Share the probability of "no stub belongs to it" among what could be behind it."""
    stubbed = problem.units.stub == 1
    loose = odds * ~stubbed
    listed = problem.listed_weights(line, loose, likelihood)
    kind = problem.shares[0]
    extra = line.extra[:2] * np.array(
        [kind[KINDS.index("untagged")], kind[KINDS.index("double_charge")]]
    )
    whole = float(listed.sum() + extra.sum()) or 1.0
    scale = outside / whole
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
