"""A card part and a cash part of one sale, or two cards: payments that make sense only together.

Two payments close in time, or with a note that says so, are weighed as one sale against two. Each
side is a product: how usual it is that a sale is split at all, how far apart the parts then are,
and how likely the amounts are, given the tags, by the same mixture the rest of the model uses
(``amounts.py``). A pair is told as a finding with its probability and changes nothing by itself;
a person may say that it is so, or that they are two sales. Shares not learned are common practice,
no source.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections import defaultdict
from collections.abc import Iterator, Sequence

import msgspec
import numpy as np

from stallkeep.domain.matching.amounts import mode_matrix
from stallkeep.domain.matching.money_line import MoneyLine, paid_for_pieces
from stallkeep.domain.matching.notes import known_codes_in
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.reconciliation import Finding
from stallkeep.domain.matching.rulings import kept_apart
from stallkeep.domain.tag_codes import normalise

SPLIT_SHARE = {("card", "cash"): 0.006, ("card", "card"): 0.002}  # of all sales
WITHIN = dt.timedelta(minutes=6)
USUALLY_APART_SECONDS = 60.0
DAY_SECONDS = 5 * 3600.0  # two strangers' payments fall in these hours: customers come in crowds
NOTE_ODDS = 60.0  # a note like "rest in cash" stands beside a part that much more often
WORTH_TELLING = 0.3
NEGLIGIBLE = 0.02  # odds that are not worth working out to the end
MOST_LIKELY = 0.2  # an amount of which nothing is noted is hardly ever likelier than this
MANY_SUMS = 4_000
ROUND_PART, WHOLE_PART, ANY_PART = 0.8, 0.15, 0.05  # cash parts: notes, coins, cents
HALF = 0.5  # of two cards that share: exactly half each
_SAYS_SO = re.compile(
    r"\b(split|part|rest|remainder|half|other half|plus cash|\+ ?cash|1/2|2/2|teil|partie|parte)\b"
)


class Pair(msgspec.Struct, frozen=True, gc=False):
    """Two payments and the odds that they are parts of one sale, against two sales."""

    first: MoneyLine
    second: MoneyLine
    odds: float


def split_sales(problem: Problem, lines: Sequence[MoneyLine]) -> list[Finding]:
    """Tell which payments may be parts of one sale.

    Args:
        problem: The event, with what it has learned of the seller.
        lines: Payments that nobody has settled.

    Returns:
        Findings ``perhaps-one-sale``, the likeliest first; the amount is that of the whole sale.
    """
    prices = _Prices(problem)
    apart = kept_apart(problem.evidence.rulings)
    pairs = [
        Pair(first, second, odds)
        for first, second in _close_pairs(lines)
        if frozenset((first.transaction_id, second.transaction_id)) not in apart
        and (odds := _odds(prices, first, second, len(lines))) > 0
    ]
    around: dict[str, float] = defaultdict(float)
    for pair in pairs:
        around[pair.first.transaction_id] += pair.odds
        around[pair.second.transaction_id] += pair.odds
    found = [_finding(problem, pair, around) for pair in pairs]
    told = [finding for finding in found if finding.probability >= WORTH_TELLING]
    return sorted(told, key=lambda f: (-round(f.probability, 9), f.transaction_ids))


class _Prices:
    """How likely an amount is as the price of one sale on this rail."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.known = {
            normalise(p.tag_code): p for p in problem.units.pieces if p.tag_code and p.price_minor
        }
        self.codes = {code: code for code in self.known}
        self.named: dict[str, tuple[str, ...]] = {}
        tags = problem.units.price[problem.units.price > 0]
        self.singles = np.unique(tags, return_counts=True)
        values, counts = self.singles
        sums = values[:, None] + values[None, :]
        weights = counts[:, None] * counts[None, :] - np.diag(counts)
        if len(np.unique(sums)) > MANY_SUMS:
            sums = np.maximum(sums // problem.step, 1) * problem.step
        totals, place = np.unique(sums, return_inverse=True)
        spread = np.bincount(place.ravel(), weights.ravel(), minlength=len(totals))
        self.pairs = (totals[spread > 0], spread[spread > 0])
        self.seen: dict[tuple[int, tuple[str, ...]], float] = {}

    def likelihood(self, amount: int, codes: tuple[str, ...]) -> float:
        """Probability of the amount; of these pieces where their codes are noted."""
        key = (amount, codes)
        if key not in self.seen:
            self.seen[key] = self._of_codes(amount, codes) if codes else self._of_rail(amount)
        return self.seen[key]

    def codes_of(self, line: MoneyLine) -> tuple[str, ...]:
        """The codes of the rail that are noted beside a line."""
        key = line.transaction_id
        if key not in self.named:
            text = " ".join(part for part in (line.tag_code, line.note) if part)
            self.named[key] = tuple(known_codes_in(text, self.codes))
        return self.named[key]

    def _of_codes(self, amount: int, codes: tuple[str, ...]) -> float:
        total = sum(self.known[code].price_minor or 0 for code in codes)
        mixed = self.problem.shares[1 if len(codes) == 1 else 2]
        modes = mode_matrix(np.array([total]), amount, self.problem.step)
        return float(modes[0] @ mixed)

    def _of_rail(self, amount: int) -> float:
        kind, one, many = self.problem.shares
        step = self.problem.step
        whole = float(kind[:5].sum())
        out = float(kind[4]) / whole * self.problem.any_amount.untagged(amount)
        for (totals, weights), mixed, share in (
            (self.singles, one, float(kind[0]) / whole),
            (self.pairs, many, float(kind[1:4].sum()) / whole),
        ):
            near = (totals >= amount * 0.65) & (totals <= amount * 2.5)
            if near.any():
                likely = mode_matrix(totals[near], amount, step) @ mixed
                out += share * float(likely @ weights[near]) / float(weights.sum())
        return out


def _close_pairs(lines: Sequence[MoneyLine]) -> Iterator[tuple[MoneyLine, MoneyLine]]:
    """Pairs worth weighing: minutes apart, or of one day where a note speaks of parts."""
    paid = [x for x in lines if x.completed and x.kind == "payment" and x.amount_minor > 0]
    timed = sorted((x for x in paid if x.occurred_at), key=_moment)
    for i, first in enumerate(timed):
        for second in timed[i + 1 :]:
            if _moment(second)[0] - _moment(first)[0] > WITHIN:
                break
            if _methods(first, second) and not _like_a_double_charge(first, second):
                yield first, second
    untimed = [x for x in paid if not x.occurred_at]
    for first in untimed:
        for second in paid:
            both_untimed = second.occurred_at is None
            if both_untimed and second.transaction_id <= first.transaction_id:
                continue
            same_day = first.occurred_on == second.occurred_on
            if same_day and _methods(first, second) and (_says_so(first) or _says_so(second)):
                yield first, second


def _moment(line: MoneyLine) -> tuple[dt.datetime, str]:
    return line.occurred_at or dt.datetime.max.replace(tzinfo=dt.UTC), line.transaction_id


def _methods(first: MoneyLine, second: MoneyLine) -> float:
    """Share of sales split over these two methods; 0 where it makes no sense."""
    methods = sorted((first.method or "", second.method or ""))
    return SPLIT_SHARE.get((methods[0], methods[1]), 0.0)


def _like_a_double_charge(first: MoneyLine, second: MoneyLine) -> bool:
    return first.method == second.method and first.amount_minor == second.amount_minor


def _says_so(line: MoneyLine) -> bool:
    return bool(_SAYS_SO.search((line.note or "").casefold()))


def _odds(prices: _Prices, first: MoneyLine, second: MoneyLine, number: int) -> float:
    a, b = paid_for_pieces(first), paid_for_pieces(second)
    if a <= 0 or b <= 0:
        return 0.0
    named = prices.codes_of(first), prices.codes_of(second)
    both = tuple(sorted(dict.fromkeys((*named[0], *named[1]))))
    apart = prices.likelihood(a, named[0]) * prices.likelihood(b, named[1])
    if not apart:
        return 0.0
    prior = 2 * _methods(first, second) / max(number - 1, 1)
    noted = NOTE_ODDS if _says_so(first) or _says_so(second) else 1.0
    parted = _parted(first, second, prices.problem.step)
    odds = prior * _time_odds(first, second) * noted * parted / apart
    if not both and odds * MOST_LIKELY < NEGLIGIBLE:
        return 0.0
    return odds * prices.likelihood(a + b, both)


def _time_odds(first: MoneyLine, second: MoneyLine) -> float:
    if first.occurred_at is None or second.occurred_at is None:
        return 1.0
    seconds = abs((second.occurred_at - first.occurred_at).total_seconds())
    density = math.exp(-seconds / USUALLY_APART_SECONDS) / (2 * USUALLY_APART_SECONDS)
    return density * DAY_SECONDS


def _parted(first: MoneyLine, second: MoneyLine, step: int) -> float:
    """Probability that a sale of the sum is parted like this."""
    total = first.amount_minor + second.amount_minor
    cash = next((x.amount_minor for x in (first, second) if x.method == "cash"), None)
    part = min(first.amount_minor, second.amount_minor) if cash is None else cash
    usual = 0.0
    for width, share in ((5 * step, ROUND_PART), (step, WHOLE_PART), (1, ANY_PART)):
        if part % width == 0:
            usual += share / max(total // width, 1)
    if cash is None:
        return HALF * (first.amount_minor == second.amount_minor) + (1 - HALF) * min(usual, 1.0)
    return min(usual, 1.0)


def _finding(problem: Problem, pair: Pair, around: dict[str, float]) -> Finding:
    ids = (pair.first.transaction_id, pair.second.transaction_id)
    others = around[ids[0]] + around[ids[1]] - pair.odds
    total = pair.first.amount_minor + pair.second.amount_minor
    first, second = _named(problem, pair.first), _named(problem, pair.second)
    return Finding(
        code="perhaps-one-sale",
        sentence=f"{first} and {second} may be parts of one sale of {problem.money(total)}.",
        transaction_ids=ids,
        amount_minor=total,
        probability=pair.odds / (1.0 + others),
    )


def _named(problem: Problem, line: MoneyLine) -> str:
    how = {"card": "by card", "cash": "in cash"}.get(line.method or "", "paid")
    return f"{problem.money(line.amount_minor)} {how}"
