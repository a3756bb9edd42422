"""A first look at an event: the seller's habits as if every line stood alone.

Whose piece is whose hardly matters to how a seller prices, so habits can be weighed before any
assignment: every line is a mixture over number of pieces and way to the price, with all pieces
free. Each kind of seller is fitted by variational Bayes; its evidence (lower bound) says how likely
the kind is. The chains of the sampler then start where the habits are, each with one kind of
seller, in proportion.

Source: Attias (1999), a variational Bayesian framework for graphical models.
"""

from __future__ import annotations

import msgspec
import numpy as np
from scipy.special import digamma, gammaln

from stallkeep.domain.matching.habits import KINDS
from stallkeep.domain.matching.line_problem import EXTRA, KIND_OF_EXTRA, LineProblem
from stallkeep.domain.matching.modes import MODES, Floats
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE
from stallkeep.domain.matching.ways import Ways

ROUNDS = 16
MOST_LINES = 200  # as many lines tell the kind; more are not looked at here
TINY = 1e-300


class FirstLook(msgspec.Struct, frozen=True):
    """Where chains start.

    Attributes:
        kind, one, many: Shares drawn for each chain.
    """

    kind: Floats
    one: Floats
    many: Floats


def first_look(problem: Problem, odds: Floats, chains: int, rng: np.random.Generator) -> FirstLook:
    """Weigh the kinds of sellers and draw a start for every chain.

    Args:
        problem: The event; its lines' signatures are used as they are.
        odds: Per unit, likelihood ratio of being sold by a line.
        chains: How many starts.
        rng: For the draws.
    """
    beliefs = problem.beliefs
    table = _table(problem, odds)
    one_row, many_row = beliefs.one[None, :], beliefs.many[None, :]
    ones = _Fit(table, beliefs.kind, beliefs.one_ways.counts, many_row)
    manys = _Fit(table, beliefs.kind, one_row, beliefs.many_ways.counts)
    z_one = _chosen(beliefs.one_ways, ones.evidence, chains, rng)
    z_many = _chosen(beliefs.many_ways, manys.evidence, chains, rng)
    scale = max(len(problem.lines) / max(len(table), 1), 1.0)
    return FirstLook(
        kind=_drawn(beliefs.kind + scale * (ones.kind - beliefs.kind)[z_one], rng),
        one=_drawn(ones.one[z_one], rng),
        many=_drawn(manys.many[z_many], rng),
    )


def _table(problem: Problem, odds: Floats) -> Floats:
    """Weight per line of (size 1, mode), …, (size 4, mode), then of EXTRA; shares left out."""
    lines = problem.lines
    step = max(1, -(-len(lines) // MOST_LINES))
    return np.array([_row(problem, line, odds) for line in lines[::step]])


def _row(problem: Problem, line: LineProblem, odds: Floats) -> Floats:
    by_size = np.zeros((LARGEST_BUNDLE, len(MODES)))
    weights = problem.set_weights(line, odds)
    for size in range(1, LARGEST_BUNDLE + 1):
        rows = line.listed.sizes == size
        if rows.any():
            by_size[size - 1] = weights[rows] @ line.listed.modes[rows]
    extra = line.extra.copy()
    extra[:2] *= line.sizes[0]
    extra[2:] *= line.sizes[2:]
    row = np.concatenate([by_size.ravel(), extra])
    scaled: Floats = row / max(float(row.max()), TINY) + TINY
    return scaled


class _Fit:
    """Variational Bayes for Z priors at once.

    Attributes:
        kind, one, many: Z x names, posterior Dirichlet counts.
        evidence: Z lower bounds of the logarithm of the evidence.
    """

    def __init__(self, table: Floats, kind: Floats, one: Floats, many: Floats) -> None:
        number = max(len(one), len(many))
        priors = [np.broadcast_to(x, (number, x.shape[-1])) for x in (kind[None, :], one, many)]
        self.kind, self.one, self.many = priors
        whole = np.zeros(number)
        for _ in range(ROUNDS if len(table) else 0):
            logs = [_expected_log(x) for x in (self.kind, self.one, self.many)]
            factors = _factors(*logs)
            total = factors @ table.T
            used = factors * ((1.0 / total) @ table)
            whole = np.log(total).sum(axis=1)
            self.kind, self.one, self.many = (
                prior + gained for prior, gained in zip(priors, _gained(used), strict=True)
            )
        now = (self.kind, self.one, self.many)
        self.evidence = whole + sum(
            _bound(prior, counts) for prior, counts in zip(priors, now, strict=True)
        )


def _factors(kind: Floats, one: Floats, many: Floats) -> Floats:
    """Expected share per column of the table, Z x columns, from expected logarithms."""
    parts = [kind[:, [0]] + one]
    parts += [kind[:, [size - 1]] + many for size in range(2, LARGEST_BUNDLE + 1)]
    parts.append(kind[:, KIND_OF_EXTRA])
    factors: Floats = np.exp(np.concatenate(parts, axis=1))
    return factors


def _gained(used: Floats) -> tuple[Floats, Floats, Floats]:
    """Expected counts of kinds, and of modes for one piece and for several."""
    modes = used[:, : LARGEST_BUNDLE * len(MODES)].reshape(len(used), LARGEST_BUNDLE, len(MODES))
    kind = np.zeros((len(used), len(KINDS)))
    kind[:, :LARGEST_BUNDLE] = modes.sum(axis=2)
    for k in range(len(EXTRA)):
        kind[:, KIND_OF_EXTRA[k]] += used[:, LARGEST_BUNDLE * len(MODES) + k]
    return kind, modes[:, 0], modes[:, 1:].sum(axis=1)


def _expected_log(counts: Floats) -> Floats:
    logs: Floats = np.where(
        counts > 0,
        digamma(np.maximum(counts, 1e-12)) - digamma(counts.sum(axis=1, keepdims=True)),
        -np.inf,
    )
    return logs


def _bound(prior: Floats, counts: Floats) -> Floats:
    """What shares add to the bound: their evidence less what the expected counts are worth."""
    some = prior > 0
    logs = np.where(some, _expected_log(counts), 0.0)
    gained = np.where(some, counts - prior, 0.0)
    names = gammaln(np.where(some, counts, 1.0)) - gammaln(np.where(some, prior, 1.0))
    whole = gammaln(prior.sum(axis=1)) - gammaln(counts.sum(axis=1))
    out: Floats = whole + names.sum(axis=1) - (gained * logs).sum(axis=1)
    return out


def _chosen(ways: Ways, evidence: Floats, chains: int, rng: np.random.Generator) -> Floats:
    """Kinds for the chains, in proportion to their probability, in random order."""
    weights = np.exp(ways.log_weights + evidence - (ways.log_weights + evidence).max())
    edges = np.cumsum(weights / weights.sum())
    aims = (np.arange(chains) + rng.random()) / chains
    return rng.permutation(np.minimum(np.searchsorted(edges, aims), len(edges) - 1))


def _drawn(counts: Floats, rng: np.random.Generator) -> Floats:
    """Shares drawn from a Dirichlet distribution per row; names x rows."""
    drawn = np.maximum(rng.standard_gamma(counts), 1e-12) * (counts > 0)
    shares: Floats = (drawn / drawn.sum(axis=1, keepdims=True)).T
    return shares
