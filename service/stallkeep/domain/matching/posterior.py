"""From chains to a distribution over explanations, one line at a time."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence

import msgspec
import numpy as np

from stallkeep.domain.matching.line_answer import Explanation
from stallkeep.domain.matching.line_problem import EXTRA, LineProblem
from stallkeep.domain.matching.line_sums import scale_reduction
from stallkeep.domain.matching.sampler import Sampler

NEGLIGIBLE = 1e-4
ENOUGH_R_HAT = 1.2
"""Chains agree where their scale reduction is no larger; a usual bound, from memory."""


class Option(msgspec.Struct, frozen=True):
    """One explanation and its probability.

    Attributes:
        explanation: pieces, untagged or double_charge.
        item_ids: Sorted.
        probability: Posterior.
        signature: Index among the line's listed signatures, -1 for none.
    """

    explanation: Explanation
    item_ids: tuple[str, ...]
    probability: float
    signature: int = -1


class LinePosterior(msgspec.Struct, frozen=True):
    """Everything known about one line after the run.

    Attributes:
        problem: The line.
        options: By falling probability, ties by item ids.
        signature: Probability per listed signature, then per EXTRA.
        unlisted: Probability of sets that were counted but not listed.
        r_hat: Scale reduction of its best signature's probability.
        error: What to take off a probability before it is held against a threshold: its standard
            error over the chains where these disagree, else 0.
    """

    problem: LineProblem
    options: tuple[Option, ...]
    signature: np.ndarray[tuple[int], np.dtype[np.float64]]
    unlisted: float
    r_hat: float
    error: float


def line_posterior(sampler: Sampler, index: int) -> LinePosterior:
    """Gather one line's explanations."""
    line, sums = sampler.lines[index], sampler.sums[index]
    listed = len(line.listed.sizes)
    options = [*_singles(sampler, index), *_bundles(sampler, index)]
    options = _without_refused(sampler, line, options)
    named = dict(zip(EXTRA, sums.signature[listed:], strict=True))
    options.append(Option("untagged", (), float(named["untagged"])))
    if line.twin is not None:
        options.append(Option("double_charge", (), float(named["double_charge"])))
    options.sort(key=lambda option: (-option.probability, option.item_ids))
    means = sums.path.mean(axis=0)
    r_hat = scale_reduction(sums.path)
    return LinePosterior(
        problem=line,
        options=tuple(o for o in options if o.probability > NEGLIGIBLE or o is options[0]),
        signature=sums.signature,
        unlisted=float(sum(named[name] for name in ("two", "three", "four"))),
        r_hat=r_hat,
        error=float(means.std(ddof=1) / np.sqrt(len(means))) if r_hat > ENOUGH_R_HAT else 0.0,
    )


def _singles(sampler: Sampler, index: int) -> list[Option]:
    line, sums = sampler.lines[index], sampler.sums[index]
    bucket = sampler.problem.bucket[line.units]
    split = int(np.searchsorted(line.listed.sizes, 2))
    where = {int(line.listed.members[k, 0]): k for k in range(split)}
    share: dict[str, float] = defaultdict(float)
    place: dict[str, int] = {}
    worth = np.nonzero(sums.single > NEGLIGIBLE / 10)[0]
    for u, price, probability in zip(
        line.units[worth], bucket[worth], sums.single[worth], strict=True
    ):
        if probability > 0:
            item = sampler.problem.units.pieces[sampler.problem.units.item[u]].item_id
            share[item] += float(probability)
            place[item] = where.get(int(price), -1)
    return [Option("pieces", (item,), p, place[item]) for item, p in share.items()]


def _bundles(sampler: Sampler, index: int) -> list[Option]:
    """Draws tell how a signature's probability is shared among its sets."""
    sums = sampler.sums[index]
    choices = sums.choices.reshape(-1)
    nobody = len(sampler.problem.units)
    sets = sums.sets.reshape(-1, sums.sets.shape[2])
    many = np.nonzero(sets[:, 1] < nobody)[0]
    drawn: dict[int, Counter[tuple[int, ...]]] = defaultdict(Counter)
    rows = np.sort(sets[many], axis=1).tolist()
    for choice, row in zip(choices[many].tolist(), rows, strict=True):
        drawn[choice][tuple(u for u in row if u < nobody)] += 1
    units = sampler.problem.units
    out: dict[tuple[int, tuple[str, ...]], float] = defaultdict(float)
    for signature, counter in drawn.items():
        whole = sum(counter.values())
        for members, count in counter.items():
            ids = tuple(sorted(units.pieces[units.item[u]].item_id for u in members))
            out[signature, ids] += float(sums.signature[signature]) * count / whole
    return [Option("pieces", ids, p, signature) for (signature, ids), p in out.items()]


def _without_refused(
    sampler: Sampler, line: LineProblem, options: Sequence[Option]
) -> list[Option]:
    refused = {
        tuple(sorted(ruling.item_ids))
        for ruling in sampler.problem.evidence.rulings
        if ruling.verdict == "refused" and ruling.transaction_id == line.line.transaction_id
    }
    left = [o for o in options if o.item_ids not in refused]
    lost = sum(o.probability for o in options) - sum(o.probability for o in left)
    scale = 1.0 / max(1.0 - lost, 1e-9)
    if lost <= 0:
        return left
    return [
        Option(o.explanation, o.item_ids, min(o.probability * scale, 1.0), o.signature)
        for o in left
    ]
