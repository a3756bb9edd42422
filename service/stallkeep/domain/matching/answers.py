"""From posteriors to answers: matched, proposed with candidates and a group, or unmatched."""

from __future__ import annotations

from collections import Counter

import numpy as np

from stallkeep.domain.matching.line_answer import Candidate, Group, LineAnswer
from stallkeep.domain.matching.money_parts import shared
from stallkeep.domain.matching.posterior import LinePosterior, Option
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.reasons import reason_of, weights_of
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE

OFFERED = 5
LIKELY = 0.5
IN_GROUP = 2e-4  # pieces less likely than this are left out of a group's list


def answer_of(problem: Problem, posterior: LinePosterior, threshold: float) -> LineAnswer:
    """Say what is known about one line."""
    line = posterior.problem.line
    best = posterior.options[0]
    cautious = best.probability - posterior.error
    candidates = tuple(
        _candidate(problem, posterior, option) for option in posterior.options[:OFFERED]
    )
    matched = best.explanation == "pieces" and cautious >= threshold
    group = None if matched else _group(problem, posterior, threshold)
    state = "matched" if matched else "proposed"
    if best.explanation != "pieces" and group is None and _nothing_likely(posterior):
        state = "unmatched"
    return LineAnswer(
        transaction_id=line.transaction_id,
        state="matched" if matched else ("unmatched" if state == "unmatched" else "proposed"),
        item_ids=best.item_ids if matched else (),
        prices_minor=candidates[0].prices_minor if matched else (),
        probability=best.probability,
        reason=reason_of(problem, posterior, matched=matched, group=group),
        candidates=candidates,
        group=group,
        related_id=candidates[0].related_id,
        sizes=_sizes(posterior),
        expected_minor=round(line.amount_minor * (1 - _sizes(posterior)[0])),
    )


def _sizes(posterior: LinePosterior) -> tuple[float, ...]:
    """Probability of no piece, one, … four."""
    listed = posterior.problem.listed.sizes
    out = np.zeros(LARGEST_BUNDLE + 1)
    np.add.at(out, listed, posterior.signature[: len(listed)])
    out[2:] += posterior.signature[len(listed) + 2 :]
    out[0] = max(0.0, 1.0 - float(out[1:].sum()))
    return tuple(float(p) for p in out / out.sum())


def _nothing_likely(posterior: LinePosterior) -> bool:
    pieces = sum(o.probability for o in posterior.options if o.explanation == "pieces")
    return pieces + posterior.unlisted < LIKELY


def _candidate(problem: Problem, posterior: LinePosterior, option: Option) -> Candidate:
    line = posterior.problem
    related = None
    if option.explanation == "double_charge":
        related = line.twin
    return Candidate(
        explanation=option.explanation,
        item_ids=option.item_ids,
        prices_minor=shared(line.line.amount_minor, [problem.price_of[i] for i in option.item_ids]),
        probability=min(option.probability, 1.0),
        weights=weights_of(problem, posterior, option),
        related_id=related,
    )


def _group(problem: Problem, posterior: LinePosterior, threshold: float) -> Group | None:
    """The most likely tag prices, if they are sure though the pieces are not."""
    line = posterior.problem
    listed = len(line.listed.sizes)
    if not listed:
        return None
    best = int(np.argmax(posterior.signature[:listed]))
    probability = float(posterior.signature[best])
    if probability - posterior.error < threshold:
        return None
    members = [int(b) for b in line.listed.members[best] if b >= 0]
    there = np.isin(problem.bucket[line.units], members)
    units = line.units[there & (line.single > IN_GROUP)]
    items = sorted({problem.units.pieces[problem.units.item[u]].item_id for u in units})
    prices = tuple(int(problem.prices[b]) for b in members)
    if 0 in prices:
        return None
    return Group(
        item_ids=tuple(items),
        tag_prices_minor=prices,
        probability=min(probability, 1.0),
        sentence=_group_sentence(problem, items, prices),
    )


def _group_sentence(problem: Problem, items: list[str], prices: tuple[int, ...]) -> str:
    if len(prices) == 1:
        return f"one of these {len(items)} pieces at {problem.money(prices[0])}"
    parts = [f"{n} at {problem.money(p)}" for p, n in sorted(Counter(prices).items())]
    return f"{len(prices)} of these {len(items)} pieces: {', '.join(parts)}"
