"""A run over one event: settle, weigh, answer."""

from __future__ import annotations

from collections import Counter

import msgspec
import numpy as np

from stallkeep.domain.matching.above_tags import above_tags
from stallkeep.domain.matching.answers import answer_of
from stallkeep.domain.matching.cash_findings import cash_findings
from stallkeep.domain.matching.channel_run import explain_channel
from stallkeep.domain.matching.evidence import Budget, Evidence
from stallkeep.domain.matching.findings import (
    contradicted_answers,
    contradictions,
    double_charges,
    probable_double_sales,
)
from stallkeep.domain.matching.first_look import first_look
from stallkeep.domain.matching.habits import Beliefs, taught
from stallkeep.domain.matching.line_answer import LineAnswer
from stallkeep.domain.matching.modes import Floats
from stallkeep.domain.matching.optimum import best_jointly
from stallkeep.domain.matching.piece_answers import piece_answers
from stallkeep.domain.matching.piece_evidence import sold_odds
from stallkeep.domain.matching.posterior import ENOUGH_R_HAT, LinePosterior, line_posterior
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.reasons import model_bits
from stallkeep.domain.matching.reconciliation import Reconciliation, Report
from stallkeep.domain.matching.refunds import answer_refunds
from stallkeep.domain.matching.ring_ups import use_ring_ups
from stallkeep.domain.matching.sampler import Sampler
from stallkeep.domain.matching.seed import seed_of
from stallkeep.domain.matching.settled import Settled
from stallkeep.domain.matching.split_payments import split_sales
from stallkeep.domain.matching.stub_days import solve_days
from stallkeep.domain.matching.unlikely import drop_unlikely

CHAINS = 32
WARM = 4
SWEEPS = 14
MANY_LINES = 150  # from here on, half the chains: memory and time for more sweeps
JOINT_OPTIONS = 25  # per line, the likeliest ones, offered to the integer programme
NEVER = 1e-40
WORK = 60  # lines per event for which the usual number of sweeps is made


def explain(evidence: Evidence, threshold: float, budget: Budget) -> Reconciliation:
    """Answer every line of *evidence*."""
    settled = Settled(evidence)
    waiting = [
        line
        for line in evidence.lines
        if line.transaction_id not in settled.answers and line.kind != "refund"
    ]
    if evidence.scope == "channel":
        return explain_channel(evidence, settled, waiting, threshold)
    rung = use_ring_ups(evidence, waiting)
    problem = Problem(
        evidence,
        waiting,
        Beliefs(evidence.habits),
        taken=dict(settled.taken + rung.without_line),
        boosts=rung.boosts,
    )
    sampler, posteriors, learned = _weighed(problem, evidence, budget)
    answers = dict(settled.answers)
    for posterior in posteriors:
        answer = answer_of(problem, posterior, threshold)
        answers[answer.transaction_id] = answer
    proven = _add_joint(problem, posteriors, answers, settled)
    refunds, refund_findings = answer_refunds(evidence, answers)
    answers |= refunds
    ordered = tuple(answers[line.transaction_id] for line in evidence.lines)
    pieces = piece_answers(evidence, problem, posteriors, settled.taken, rung.without_line)
    findings = [
        *settled.findings,
        *contradictions(evidence),
        *rung.findings,
        *refund_findings,
        *double_charges(evidence, sorted(ordered, key=lambda a: a.transaction_id)),
        *contradicted_answers(evidence, ordered),
        *probable_double_sales(sorted(pieces, key=lambda p: p.item_id), evidence.pieces),
        *split_sales(problem, waiting),
        *cash_findings(evidence, sorted(ordered, key=lambda a: a.transaction_id)),
        *above_tags(learned, len(waiting)),
    ]
    return Reconciliation(
        answers=ordered,
        findings=tuple(findings),
        pieces=pieces,
        habits=taught(evidence.habits, learned),
        report=_report(sampler, posteriors, proven=proven),
    )


def _add_joint(
    problem: Problem,
    posteriors: list[LinePosterior],
    answers: dict[str, LineAnswer],
    settled: Settled,
) -> bool:
    """Write the jointly best explanation into the answers; tell whether it is proven best."""
    if len(posteriors) > MANY_LINES:
        return False
    options = [
        [(o.item_ids, 2.0 ** model_bits(problem, p, o)) for o in p.options[:JOINT_OPTIONS]]
        + [((), NEVER)]
        for p in posteriors
    ]
    quantity = Counter({p.item_id: max(p.quantity, 1) for p in problem.evidence.pieces})
    quantity.subtract(settled.taken)
    best = best_jointly(options, quantity)
    for posterior, own, k in zip(posteriors, options, best.choice, strict=True):
        key = posterior.problem.line.transaction_id
        if k >= 0:
            answers[key] = msgspec.structs.replace(answers[key], joint_item_ids=own[k][0])
    return best.proven


def _weighed(
    problem: Problem, evidence: Evidence, budget: Budget
) -> tuple[Sampler, list[LinePosterior], dict[str, float]]:
    """Days with stubs in order by their chain, everything else by sampling; and what is learned."""
    seed = seed_of(evidence)
    by_order = solve_days(problem, seed)
    problem.leave_out(by_order.lines)
    problem.beliefs = problem.beliefs.after(by_order.gains)
    problem.read_written_prices()
    sampler = _sampled(problem, seed, budget)
    sampled = [line_posterior(sampler, i) for i in range(len(problem.lines))]
    learned = Counter(by_order.gains)
    learned.update(sampler.gains())
    return sampler, [*by_order.posteriors, *sampled], dict(learned)


def _sampled(problem: Problem, seed: int, budget: Budget) -> Sampler:
    scale = budget.effort * min(1.0, max(0.25, WORK / max(len(problem.lines), 1)))
    chains = CHAINS if len(problem.lines) <= MANY_LINES else CHAINS // 2
    odds = _expected_odds(problem)
    start = first_look(problem, odds, chains, np.random.default_rng(seed))
    drop_unlikely(problem, start, odds)
    sampler = Sampler(
        problem,
        chains=chains,
        warm=max(3, round(WARM * scale)),
        sweeps=max(4, round(SWEEPS * scale)) if problem.lines else 0,
        seed=seed,
        start=start,
    )
    sampler.run()
    if not problem.lines:
        return sampler
    problem.believe(
        problem.beliefs.kind + sampler.habits.kind_gain,
        sampler.habits.one_mean,
        sampler.habits.many_mean,
        sampler.chances.odds,
    )
    return sampler


def _expected_odds(problem: Problem) -> Floats:
    beliefs = problem.beliefs
    return sold_odds(problem.units, {name: beliefs.chance(name) for name in beliefs.chances})


def _report(sampler: Sampler, posteriors: list[LinePosterior], *, proven: bool) -> Report:
    worst = max((p.r_hat for p in posteriors), default=1.0)
    return Report(
        components=1 if posteriors else 0,
        draws=sampler.chains * sampler.sweeps,
        r_hat=worst,
        converged=worst <= ENOUGH_R_HAT,
        optimum_proven=proven,
        candidates=sum(len(p.problem.listed.sizes) for p in posteriors),
    )
