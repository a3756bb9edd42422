"""The ceiling: the same sampler told the generator's own probabilities, and a long run."""

from __future__ import annotations

import numpy as np
from tests.bench.matching.worlds import UNTAGGED, World

from stallkeep.domain.matching import Habits, LineAnswer, Reconciliation
from stallkeep.domain.matching.answers import answer_of
from stallkeep.domain.matching.habits import KINDS, Beliefs
from stallkeep.domain.matching.line_problem import EXTRA, LineProblem
from stallkeep.domain.matching.modes import Floats
from stallkeep.domain.matching.posterior import line_posterior
from stallkeep.domain.matching.problem import Problem, SetLikelihood
from stallkeep.domain.matching.sampler import AmountLikelihood, Sampler
from stallkeep.domain.matching.seed import seed_of
from stallkeep.domain.matching.stub_days import solve_days

SURE = 1e6


def know_all(world: World, threshold: float = 0.99, effort: float = 2.5) -> Reconciliation:
    """Answer a world with its true parameters."""
    evidence = world.evidence
    beliefs = true_beliefs(world)
    problem = Problem(evidence, list(evidence.lines), beliefs, taken={}, boosts={})
    know_untagged(problem)
    of_set = set_likelihood(world)
    by_order = solve_days(problem, seed_of(evidence), of_set, learn=False)
    problem.leave_out(by_order.lines)
    sampler = Sampler(
        problem, chains=48, warm=15, sweeps=round(20 * effort), seed=seed_of(evidence),
        learn=False, likelihood=amount_likelihood(world, problem),
    )  # fmt: skip
    sampler.run()
    problem.believe(beliefs.kind, beliefs.one, beliefs.many, sampler.chances.odds)
    answers: dict[str, LineAnswer] = {}
    found = [*by_order.posteriors, *(line_posterior(sampler, i) for i in range(len(problem.lines)))]
    for posterior in found:
        answer = answer_of(problem, posterior, threshold)
        answers[answer.transaction_id] = answer
    return Reconciliation(answers=tuple(answers[x.transaction_id] for x in evidence.lines))


def know_untagged(problem: Problem) -> None:
    """Let things without a tag cost what they cost in these worlds."""
    for line in problem.lines:
        line.extra[:] = 0.0
        none = line.text.none if line.text else 1.0
        line.extra[EXTRA.index("untagged")] = UNTAGGED.get(line.paid, 0.0) / none


def set_likelihood(world: World) -> SetLikelihood:
    """Probability of an amount given tag prices, by the seller's own ways."""
    known: dict[tuple[int, ...], dict[int, float]] = {}

    def of_set(tags: tuple[int, ...], amount: int) -> float:
        if tags not in known:
            known[tags] = world.seller.amounts(tags)
        return known[tags].get(amount, 0.0)

    return of_set


def amount_likelihood(world: World, problem: Problem) -> AmountLikelihood:
    """The same for all signatures of a line."""
    of_set = set_likelihood(world)

    def likelihood(line: LineProblem) -> Floats:
        rows = [tuple(int(problem.prices[b]) for b in r if b >= 0) for r in line.listed.members]
        return np.array([of_set(tags, line.paid) for tags in rows])

    return likelihood


def true_beliefs(world: World) -> Beliefs:
    """The generator's own probabilities, as if learned from a million sales."""
    profile = world.profile
    beliefs = Beliefs(Habits())
    one, two, three, four, untagged = world.sizes_share
    shares = dict(zip(KINDS, (one, two, three, four, untagged, 0.0), strict=True))
    beliefs.kind = SURE * np.array([shares[k] for k in KINDS])
    sales = profile.lines / (1 - profile.cash_without_line)
    per_sale = one + 2 * two + 3 * three + 4 * four
    gone = sales * profile.cash_without_line * per_sale + profile.pieces * profile.online
    rest = profile.pieces - profile.lines * per_sale
    slip = max(profile.count_slip, 1e-4)
    wrong = profile.note_wrong / (profile.note_wrong + profile.note_code)
    for name, share in {
        "counted_though_sold": slip,
        "missed_though_home": slip,
        "stub_lost": profile.stub_lost,
        "stub_swapped": max(profile.stub_swapped, 1e-6),
        "gone_without_line": gone / rest,
        "code_is_wrong": max(wrong, 1e-4),
    }.items():
        beliefs.chances[name] = (SURE * share, SURE * (1 - share))
    return beliefs
