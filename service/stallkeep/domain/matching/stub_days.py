"""Days with stubs in order, answered whole: habits learned, then one posterior per line."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Mapping

import msgspec
import numpy as np

from stallkeep.domain.matching.habits import KINDS, Beliefs, gained_counts, named_gains
from stallkeep.domain.matching.modes import Floats
from stallkeep.domain.matching.piece_evidence import sold_odds
from stallkeep.domain.matching.posterior import NEGLIGIBLE, LinePosterior, Option
from stallkeep.domain.matching.problem import EXTRA, LineProblem, Problem, SetLikelihood
from stallkeep.domain.matching.stub_order import Chain, StubSets, days_in_order
from stallkeep.domain.matching.types import Stub
from stallkeep.domain.tag_codes import normalise

REVERSED, DROPPED = 0.1, 0.1  # how often orders given are the reverse, or none
SHUFFLES = 5
ROUNDS = 4  # of expectation and maximisation; habits move little after the third
LEFT_OVER = 0.2  # how often no line of its own day takes a stub, before that day was looked at


class SolvedDays(msgspec.Struct, frozen=True):
    """What the order of stubs settled.

    Attributes:
        posteriors: One per line of those days.
        gains: Expected counts the days have taught, by name as in Habits.
    """

    posteriors: list[LinePosterior]
    gains: dict[str, float]

    @property
    def lines(self) -> frozenset[str]:
        """Transaction ids of the lines answered."""
        return frozenset(p.problem.line.transaction_id for p in self.posteriors)


def solve_days(
    problem: Problem,
    likelihood: SetLikelihood | None = None,
    *,
    learn: bool = True,
) -> SolvedDays:
    """Answer the lines of days whose stubs have an order; others are not in the result."""
    days = {
        day: (indices, kept)
        for day, (indices, stubs) in days_in_order(problem).items()
        if (kept := _order_kept(problem, indices, stubs, likelihood))
    }
    if not days:
        return SolvedDays([], {})
    number = sum(len(stubs) for _, stubs in days.values())
    beliefs = problem.beliefs
    sets: list[StubSets] = []
    gains: dict[str, float] = {}
    left_over: dict[str, float] = {}
    for _ in range(ROUNDS if learn else 2):
        sets = []
        odds = _odds(problem, beliefs)
        for day, (indices, stubs) in days.items():
            lines = [problem.lines[i] for i in indices]
            swapped = beliefs.chance("stub_swapped")
            own = odds * _left_by_others(problem, day, left_over)
            found = Chain(problem, lines, stubs, own, likelihood, swapped=swapped).solve()
            left_over |= _left_over(problem, stubs, found)
            sets += found
        if learn:
            gains = _gains(problem, sets, number)
            beliefs = problem.beliefs.after(gains)
            problem.shares = _expected_shares(problem.beliefs, gains)
    odds = _odds(problem, beliefs)
    problem.believe(*problem.shares, odds)
    return SolvedDays([_posterior(problem, found, odds, likelihood) for found in sets], gains)


def _left_by_others(problem: Problem, day: dt.date, left_over: Mapping[str, float]) -> Floats:
    """Per unit, how likely its stub's own days leave it to a line of *day*; 1 without such days."""
    units = problem.units
    left = np.ones(len(units))
    for u in np.nonzero(units.stub == 1)[0]:
        item = int(units.item[u])
        if day not in problem.stub_days.get(item, (day,)):
            left[u] = left_over.get(units.pieces[item].item_id, LEFT_OVER)
    return left


def _left_over(problem: Problem, stubs: list[Stub], found: list[StubSets]) -> dict[str, float]:
    """Per piece with a stub of a day, the probability that no line of the day took it."""
    taken: Counter[str] = Counter()
    for line in found:
        for items, probability in line.sets.items():
            taken.update(dict.fromkeys(items, probability))
    codes = (problem.vocabulary.codes[normalise(stub.code)] for stub in stubs)
    ids = [problem.units.pieces[place].item_id for place in codes]
    return {item: max(1.0 - taken[item], 0.0) for item in ids}


def _order_kept(
    problem: Problem, indices: list[int], stubs: list[Stub], likelihood: SetLikelihood | None
) -> list[Stub]:
    """The stubs in the order they were kept in: as given, the other way round, or none at all.

    A pile of stubs may be read from the top, and may have been dropped: the order given is held
    against the reverse and against some that are drawn at random.
    """
    lines = [problem.lines[i] for i in indices]
    odds = _odds(problem, problem.beliefs) * _left_by_others(problem, stubs[0].day, {})
    swapped = problem.beliefs.chance("stub_swapped")

    def weight(order: list[Stub]) -> float:
        return Chain(problem, lines, order, odds, likelihood, swapped=swapped).evidence()

    rng = np.random.default_rng(len(stubs))
    given, turned = weight(stubs), weight(stubs[::-1]) + math.log(REVERSED)
    drawn = [weight([stubs[k] for k in rng.permutation(len(stubs))]) for _ in range(SHUFFLES)]
    if max(given, turned) < max(drawn) + math.log(DROPPED / SHUFFLES):
        return []
    return stubs if given >= turned else stubs[::-1]


def _odds(problem: Problem, beliefs: Beliefs) -> Floats:
    return sold_odds(problem.units, {name: beliefs.chance(name) for name in beliefs.chances})


def _gains(problem: Problem, sets: list[StubSets], stubs: int) -> dict[str, float]:
    """Expected counts: kinds and ways to a price, stubs lost and swapped, pieces gone unpaid."""
    kind = np.sum([s.size_gain for s in sets], axis=0)
    # half of the lines without a stub: the rest are pieces whose stub was lost
    kind[KINDS.index("untagged")] += sum(s.outside for s in sets) / 2
    one = np.sum([s.single_gain for s in sets], axis=0)
    many = np.sum([s.many_gain for s in sets], axis=0)
    taken = sum(s.taken for s in sets)
    loose = sum(s.mixed + s.outside / 2 for s in sets)
    swapped = sum(s.swapped for s in sets)
    gone = max(stubs - taken, 0.0)
    rest = max(len(problem.units) - taken - loose, gone)
    return named_gains(
        (kind, one, many),
        {
            "stub_lost": (loose, taken),
            "stub_swapped": (swapped, max(taken - swapped, 0.0)),
            "gone_without_line": (gone, rest - gone),
        },
    )


def _expected_shares(beliefs: Beliefs, gains: Mapping[str, float]) -> tuple[Floats, Floats, Floats]:
    kind, one, many = gained_counts(gains)
    kind = beliefs.kind + kind
    return kind / kind.sum(), beliefs.one_ways.mean_after(one), beliefs.many_ways.mean_after(many)


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
