"""What not knowing the seller costs: ``python -m tests.bench.matching.unknowns [worlds] [first]``.

The reference that knows everything is run again with one thing at a time learned instead, as the
engine learns it: what things without a tag cost, how the seller comes to a price, how often a sale
is of several pieces, how often a count slips. What is lost then no engine can win back from one
event by itself.
"""

from __future__ import annotations

import sys
from unittest import mock

import msgspec
import numpy as np
from tests.bench.matching.reference import amount_likelihood, know_untagged, true_beliefs
from tests.bench.matching.scoring import Score, add
from tests.bench.matching.worlds import PROFILES, World, a_world

from stallkeep.domain.matching import Habits, Reconciliation
from stallkeep.domain.matching.answers import answer_of
from stallkeep.domain.matching.first_look import FirstLook, first_look
from stallkeep.domain.matching.habits import Beliefs
from stallkeep.domain.matching.piece_evidence import sold_odds
from stallkeep.domain.matching.posterior import line_posterior
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.sampler import Sampler
from stallkeep.domain.matching.seed import seed_of
from stallkeep.domain.matching.unlikely import drop_unlikely

EVERYTHING = frozenset({"untagged", "prices", "sizes", "chances"})
CHAINS, WARM, SWEEPS = 48, 15, 50


def know(world: World, known: frozenset[str]) -> Reconciliation:
    """Answer a world of a single kind of evidence, knowing only some things."""
    evidence = world.evidence
    true, beliefs = true_beliefs(world), Beliefs(Habits())
    if "sizes" in known:
        beliefs.kind = true.kind
    if "chances" in known:
        beliefs.chances = true.chances
    problem = Problem(evidence, list(evidence.lines), beliefs, taken={}, boosts={})
    if "untagged" in known:
        know_untagged(problem)
    prices = amount_likelihood(world, problem) if "prices" in known else None
    sampler = Sampler(
        problem, chains=CHAINS, warm=WARM, sweeps=SWEEPS, seed=seed_of(evidence),
        likelihood=prices, start=None if prices else _start(problem, known, true.kind),
    )  # fmt: skip
    with mock.patch.object(sampler.chances, "learn") if "chances" in known else mock.MagicMock():
        sampler.run()
    found = [line_posterior(sampler, i) for i in range(len(problem.lines))]
    problem.believe(beliefs.kind, beliefs.one, beliefs.many, sampler.chances.odds)
    answers = {p.problem.line.transaction_id: answer_of(problem, p, 0.99) for p in found}
    return Reconciliation(answers=tuple(answers[x.transaction_id] for x in evidence.lines))


def _start(problem: Problem, known: frozenset[str], kind: np.ndarray) -> FirstLook:
    chance = {name: problem.beliefs.chance(name) for name in problem.beliefs.chances}
    odds = sold_odds(problem.units, chance)
    look = first_look(problem, odds, CHAINS, np.random.default_rng(1))
    if "sizes" in known:
        look = msgspec.structs.replace(look, kind=np.repeat(kind[:, None] / kind.sum(), CHAINS, 1))
    drop_unlikely(problem, look, odds)
    return look


def main(worlds: int, first: int) -> None:
    """Print a row per profile and thing that is not known."""
    sys.stdout.write("| profile | learned | matched | precision | group | group precision |\n")
    sys.stdout.write("|---|---|---|---|---|---|\n")
    for name in ("easy", "typical", "typical_count", "never_haggles"):
        for learned in (frozenset(), *({thing} for thing in sorted(EVERYTHING)), EVERYTHING):
            score = Score()
            for seed in range(first, first + worlds):
                world = a_world(PROFILES[name], seed)
                add(score, world, know(world, EVERYTHING - learned), 0.0)
            what = "all" if learned == EVERYTHING else ", ".join(learned) or "nothing"
            sys.stdout.write(
                f"| {name} | {what} | {score.coverage:.3f} | {score.precision:.4f} "
                f"| {score.group_coverage:.3f} | {score.group_precision:.4f} |\n"
            )
            sys.stdout.flush()


if __name__ == "__main__":
    main(int((sys.argv[1:] or ["10"])[0]), int((sys.argv[2:] or ["9000"])[0]))
