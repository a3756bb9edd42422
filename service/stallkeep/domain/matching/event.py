"""A run over one event: settle, weigh, answer."""

from __future__ import annotations

from collections import Counter

from stallkeep.domain.matching.answers import answer_of
from stallkeep.domain.matching.habits import KINDS, MODES, Beliefs, taught
from stallkeep.domain.matching.posterior import LinePosterior, line_posterior
from stallkeep.domain.matching.problem import Problem, seed_of
from stallkeep.domain.matching.sampler import Sampler
from stallkeep.domain.matching.settled import Settled
from stallkeep.domain.matching.stub_days import by_order_lines, solve_days
from stallkeep.domain.matching.types import (
    Budget,
    Evidence,
    Habits,
    LineAnswer,
    PieceAnswer,
    Reconciliation,
    Report,
)

CHAINS = 32
WARM = 8
SWEEPS = 20
WORK = 60  # lines per event for which the usual number of sweeps is made
ENOUGH_R_HAT = 1.2


def explain(evidence: Evidence, threshold: float, budget: Budget) -> Reconciliation:
    """Answer every line of *evidence*."""
    settled = Settled(evidence)
    open_lines = [
        line
        for line in evidence.lines
        if line.transaction_id not in settled.answers and line.kind != "refund"
    ]
    beliefs = Beliefs(evidence.habits)
    problem = Problem(evidence, open_lines, beliefs, taken=dict(settled.taken), boosts={})
    by_order = solve_days(problem)
    problem.leave_out(by_order_lines(by_order))
    sampler = _sampled(problem, seed_of(evidence), budget)
    posteriors = [*by_order, *(line_posterior(sampler, i) for i in range(len(problem.lines)))]
    answers = dict(settled.answers)
    for posterior in posteriors:
        answer = answer_of(problem, posterior, threshold)
        answers[answer.transaction_id] = answer
    for line in evidence.lines:
        if line.transaction_id not in answers:
            answers[line.transaction_id] = LineAnswer(
                transaction_id=line.transaction_id,
                state="unmatched",
                reason="a refund takes no piece",
            )
    return Reconciliation(
        answers=tuple(answers[line.transaction_id] for line in evidence.lines),
        findings=tuple(settled.findings),
        pieces=_pieces(evidence, sampler, settled),
        habits=_habits(evidence.habits, sampler),
        report=_report(sampler, posteriors),
    )


def _sampled(problem: Problem, seed: int, budget: Budget) -> Sampler:
    scale = budget.effort * min(1.0, max(0.25, WORK / max(len(problem.lines), 1)))
    sampler = Sampler(
        problem,
        chains=CHAINS,
        warm=max(3, round(WARM * scale)),
        sweeps=max(4, round(SWEEPS * scale)) if problem.lines else 0,
        seed=seed,
    )
    sampler.run()
    if not problem.lines:
        return sampler
    problem.believe(
        problem.beliefs.kind + sampler.kind_gain,
        problem.beliefs.one + sampler.one_gain,
        problem.beliefs.many + sampler.many_gain,
        sampler.odds,
    )
    return sampler


def _pieces(evidence: Evidence, sampler: Sampler, settled: Settled) -> tuple[PieceAnswer, ...]:
    units = sampler.problem.units
    sold: Counter[str] = Counter()
    for item, count in settled.taken.items():
        sold[item] += count
    expected = {piece.item_id: float(sold[piece.item_id]) for piece in evidence.pieces}
    for u, i in enumerate(units.item):
        expected[units.pieces[i].item_id] += float(sampler.used[u])
    return tuple(
        PieceAnswer(
            item_id=piece.item_id,
            sold=expected[piece.item_id],
            gone=min(1.0, expected[piece.item_id]),
        )
        for piece in evidence.pieces
    )


def _habits(before: Habits, sampler: Sampler) -> Habits:
    gains = {f"kind/{k}": float(g) for k, g in zip(KINDS, sampler.kind_gain, strict=True)}
    gains |= {f"one/{m}": float(g) for m, g in zip(MODES, sampler.one_gain, strict=True)}
    gains |= {f"many/{m}": float(g) for m, g in zip(MODES, sampler.many_gain, strict=True)}
    return taught(before, gains)


def _report(sampler: Sampler, posteriors: list[LinePosterior]) -> Report:
    worst = max((p.r_hat for p in posteriors), default=1.0)
    return Report(
        components=1 if posteriors else 0,
        draws=sampler.chains * sampler.sweeps,
        r_hat=worst,
        converged=worst <= ENOUGH_R_HAT,
        candidates=sum(len(p.problem.listed.sizes) for p in posteriors),
    )
