"""Sales of a channel against the whole stock: blocked, so that work grows with the sales.

A line is compared with items of the same title, and else with those that share one of its two
rarest title words, or two words where all of them are common. Match weights are Fellegi and
Sunter's: log2(m/u) per comparison, u taken from how common the title, its words and the price are
in this stock.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

import msgspec

from stallkeep.domain.matching.exact import enumerate_jointly, states
from stallkeep.domain.matching.match_weights import agreement_bits
from stallkeep.domain.matching.money_parts import shared
from stallkeep.domain.matching.notes import words
from stallkeep.domain.matching.title_words import most_bits, word_bits
from stallkeep.domain.matching.types import (
    Candidate,
    Evidence,
    LineAnswer,
    MoneyLine,
    RailPiece,
    Weight,
)

KNOWN_ITEM = 0.95  # share of sales that are of an item in stock
SAME_TITLE, OTHER_TITLE = 0.8, 0.2  # m: how true pairs' titles compare
SAME_PRICE, LOWER_PRICE = 0.7, 0.25
LOWER_U = 0.15
OTHER_PRICE_BITS = -3.0
WRONG_DATE_BITS = -5.0
LIKE_BITS, UNLIKE_BITS = 6.0, 0.0  # a weight above the first is called nearly the same title
NEGLIGIBLE_BITS = 10.0
LARGEST_BLOCK = 60
LARGEST_SCAN = 2_000  # users of a word that are looked through for ones with a second word
MOST_STATES = 5_000
LEAST_SHARE = 0.5


class Pair(msgspec.Struct, frozen=True, gc=False):
    """One item compared with one line: weight against "no item", and the evidence.

    *excess* is by how much its title weighs more than titles may against "no item".
    """

    item_id: str
    bits: float
    weights: tuple[Weight, ...]
    excess: float = 0.0


class Stock:
    """The items of a stock, indexed for comparison."""

    def __init__(self, pieces: Sequence[RailPiece]) -> None:
        self.size = max(len(pieces), 1)
        self.pieces = {piece.item_id: piece for piece in pieces}
        self.titles: dict[str, list[str]] = defaultdict(list)
        self.words: dict[str, list[str]] = defaultdict(list)
        self.prices: Counter[int | None] = Counter()
        self.keys: dict[str, str] = {}
        for piece in pieces:
            key = key_of(piece.title)
            self.keys[piece.item_id] = key
            self.titles[key].append(piece.item_id)
            self.prices[piece.price_minor] += 1
        self.by_words_ready = False

    def block(self, line: MoneyLine, key: str) -> list[str]:
        """Items worth comparing with a line: its title's, or else those with its rarest words."""
        same = self.titles.get(key, [])
        if same:
            price = line.amount_minor - (line.postage_minor or 0)
            if len(same) > LARGEST_BLOCK:
                same = [i for i in same if self.pieces[i].price_minor == price] or same
            return same[:LARGEST_BLOCK]
        self._index_words()
        own = sorted(
            {w for w in key.split() if w in self.words},
            key=lambda w: (len(self.words[w]), w),
        )
        rare = [self.words[w] for w in own[:2] if len(self.words[w]) <= LARGEST_BLOCK]
        if rare:
            return sorted({i for items in rare for i in items})
        common = [self.words[w] for w in own if len(self.words[w]) <= LARGEST_SCAN]
        return self._with_two(common[:3], line)

    def _with_two(self, lists: Sequence[Sequence[str]], line: MoneyLine) -> list[str]:
        """Items with at least two of these common words, the ones at the line's price first."""
        counts = Counter(item for items in lists for item in items)
        price = line.amount_minor - (line.postage_minor or 0)
        both = [item for item, number in counts.items() if number > 1]
        both.sort(key=lambda i: (self.pieces[i].price_minor != price, -counts[i], i))
        return sorted(both[:LARGEST_BLOCK])

    def _index_words(self) -> None:
        if self.by_words_ready:
            return
        for key, items in self.titles.items():
            for word in set(key.split()):
                self.words[word].extend(items)
        self.by_words_ready = True


def key_of(title: str) -> str:
    """A title without case, punctuation and order of blanks."""
    return " ".join(words(title))


def match_channel(
    evidence: Evidence, lines: Sequence[MoneyLine], taken: Mapping[str, int], threshold: float
) -> dict[str, LineAnswer]:
    """Answer the sales of a channel that no reference settles."""
    stock = Stock(evidence.pieces)
    refused = {
        (r.transaction_id, r.item_ids[0])
        for r in evidence.rulings
        if r.verdict == "refused" and len(r.item_ids) == 1
    }
    pairs: dict[str, list[Pair]] = {}
    for line in lines:
        key = key_of(line.title or line.note or "")
        found = [
            compared(stock, line, key, item)
            for item in stock.block(line, key)
            if taken.get(item, 0) < max(stock.pieces[item].quantity, 1)
            and (line.transaction_id, item) not in refused
        ]
        pairs[line.transaction_id] = _worth_keeping(found)
    known = {line.transaction_id: line for line in lines}
    out: dict[str, LineAnswer] = {}
    for component in _components(pairs):
        shares = _posterior(stock, [pairs[t] for t in component], taken)
        for t, share in zip(component, shares, strict=True):
            out[t] = _answer(known[t], pairs[t], share, threshold, stock)
    return out


def _worth_keeping(pairs: list[Pair]) -> list[Pair]:
    """Leave out what is a thousand times less likely than the best, or than no item at all.

    Where titles say more against "no item" than they can know, all pairs of the line are lowered
    alike: it changes nothing between two items.
    """
    excess = max([0.0, *(pair.excess for pair in pairs)])
    if excess:
        pairs = [_lowered(pair, excess) for pair in pairs]
    least = max([0.0, *(pair.bits for pair in pairs)]) - NEGLIGIBLE_BITS
    return [pair for pair in pairs if pair.bits >= least]


def _lowered(pair: Pair, by: float) -> Pair:
    prior, *rest = pair.weights
    lower = Weight(bits=prior.bits - by, sentence=prior.sentence)
    return Pair(pair.item_id, pair.bits - by, (lower, *rest))


def compared(stock: Stock, line: MoneyLine, key: str, item: str) -> Pair:
    """Weigh one item against "none of these" for one line."""
    piece = stock.pieces[item]
    prior = math.log2(KNOWN_ITEM / (1 - KNOWN_ITEM) / stock.size)
    title, most = _title_weight(stock, key, piece)
    weights = (
        Weight(bits=prior, sentence="any item of the stock, before looking"),
        title,
        _price_weight(stock, line, piece),
        _date_weight(line, piece),
    )
    bits = sum(w.bits for w in weights)
    return Pair(item, bits, tuple(w for w in weights if w.bits), title.bits - most)


def _title_weight(stock: Stock, given: str, piece: RailPiece) -> tuple[Weight, float]:
    """Weigh the titles; with the most that they may weigh against "no item"."""
    own = stock.keys[piece.item_id]
    usual = len(stock.titles[own]) / stock.size
    words_known = len(own.split())
    if given == own:
        bits = most_bits(agreement_bits(SAME_TITLE, usual), words_known)
        return Weight(bits=bits, sentence="the same title"), bits
    bits = word_bits(given.split(), own.split(), stock.words, stock.size)
    most = most_bits(agreement_bits(OTHER_TITLE, usual), words_known)
    told = "nearly the same title" if bits >= LIKE_BITS else "a similar title"
    return Weight(bits=bits, sentence=told if bits > UNLIKE_BITS else "another title"), most


def _price_weight(stock: Stock, line: MoneyLine, piece: RailPiece) -> Weight:
    paid = line.amount_minor - (line.postage_minor or 0)
    if piece.price_minor is None:
        return Weight(bits=0.0, sentence="the asking price is not known")
    if paid == piece.price_minor:
        usual = stock.prices[piece.price_minor] / stock.size
        return Weight(bits=agreement_bits(SAME_PRICE, usual), sentence="sold at the asking price")
    if piece.price_minor * LEAST_SHARE <= paid < piece.price_minor:
        return Weight(
            bits=agreement_bits(LOWER_PRICE, LOWER_U), sentence="sold under the asking price"
        )
    return Weight(bits=OTHER_PRICE_BITS, sentence="the price does not fit")


def _date_weight(line: MoneyLine, piece: RailPiece) -> Weight:
    early = piece.listed_on is not None and line.occurred_on < piece.listed_on
    late = piece.ended_on is not None and (line.occurred_on - piece.ended_on).days > 1
    if early or late:
        return Weight(bits=WRONG_DATE_BITS, sentence="it was not on offer that day")
    return Weight(bits=0.0, sentence="it was on offer that day")


def _components(pairs: Mapping[str, Sequence[Pair]]) -> list[list[str]]:
    """Lines that compete for an item, together; in a stable order."""
    root: dict[str, str] = {t: t for t in pairs}

    def find(t: str) -> str:
        while root[t] != t:
            root[t] = root[root[t]]
            t = root[t]
        return t

    holder: dict[str, str] = {}
    for t, found in pairs.items():
        for pair in found:
            first = holder.setdefault(pair.item_id, t)
            if first is not t:
                a, b = sorted((find(first), find(t)))
                root[b] = a
    groups: dict[str, list[str]] = defaultdict(list)
    for t in pairs:
        groups[find(t)].append(t)
    return [sorted(group) for group in groups.values()]


def _posterior(
    stock: Stock, pairs: Sequence[Sequence[Pair]], taken: Mapping[str, int]
) -> list[list[float]]:
    """Per line, probability per pair, then of none."""
    options = [
        [*(((p.item_id,), 2.0 ** min(p.bits, 60.0)) for p in own), ((), 1.0)] for own in pairs
    ]
    if len(options) > 1 and states(options) <= MOST_STATES:
        items = {p.item_id for own in pairs for p in own}
        left = Counter(
            {i: max(stock.pieces[i].quantity, 1) - taken.get(i, 0) for i in sorted(items)}
        )
        return enumerate_jointly(options, left).marginals
    return _balanced(stock, options, taken) if len(options) > 1 else [_alone(options[0])]


def _alone(options: Sequence[tuple[tuple[str, ...], float]]) -> list[float]:
    whole = sum(weight for _, weight in options)
    return [weight / whole for _, weight in options]


def _balanced(
    stock: Stock,
    options: Sequence[Sequence[tuple[tuple[str, ...], float]]],
    taken: Mapping[str, int],
) -> list[list[float]]:
    """For large components: let each item's demand push down its weight until it fits.

    Iterative proportional scaling (Sinkhorn 1967); it understates nobody's doubt: an item wanted
    twice is shared, so neither line becomes sure.
    """
    pull: dict[str, float] = defaultdict(lambda: 1.0)
    shares: list[list[float]] = []
    for _ in range(20):
        demand: dict[str, float] = defaultdict(float)
        shares = []
        for line in options:
            scaled = [w * (pull[items[0]] if items else 1.0) for items, w in line]
            whole = sum(scaled)
            shares.append([s / whole for s in scaled])
            for (items, _), share in zip(line, shares[-1], strict=True):
                if items:
                    demand[items[0]] += share
        for item, wanted in demand.items():
            there = max(stock.pieces[item].quantity, 1) - taken.get(item, 0)
            if wanted > there:
                pull[item] *= there / wanted
    return shares


def _answer(
    line: MoneyLine,
    pairs: Sequence[Pair],
    shares: Sequence[float],
    threshold: float,
    stock: Stock,
) -> LineAnswer:
    ranked = sorted(zip(pairs, shares, strict=False), key=lambda x: (-x[1], x[0].item_id))
    candidates = tuple(
        _candidate(line, pair, share, shares[-1])
        for pair, share in ranked[:5]
        if share > 1e-4  # noqa: PLR2004 - less is noise
    )
    if not candidates or shares[-1] > candidates[0].probability:
        return LineAnswer(
            transaction_id=line.transaction_id,
            state="unmatched",
            probability=float(shares[-1]),
            reason="no item of the stock has a title and price like it",
            candidates=candidates,
        )
    best = candidates[0]
    matched = best.probability >= threshold
    told = max(best.weights, key=lambda w: w.bits).sentence if best.weights else "it fits best"
    return LineAnswer(
        transaction_id=line.transaction_id,
        state="matched" if matched else "proposed",
        item_ids=best.item_ids if matched else (),
        prices_minor=best.prices_minor if matched else (),
        probability=best.probability,
        reason=told if matched else f"{len(candidates)} items fit, none for certain",
        candidates=candidates,
    )


def _candidate(line: MoneyLine, pair: Pair, share: float, none: float) -> Candidate:
    """Weights against "no item", with what competition for the item changed as the last."""
    whole = math.log2(max(share, 1e-9) / max(none, 1e-9))
    rest = whole - sum(w.bits for w in pair.weights)
    weights = (*pair.weights, Weight(bits=rest, sentence="other items and other sales like it"))
    return Candidate(
        explanation="pieces",
        item_ids=(pair.item_id,),
        prices_minor=shared(line.amount_minor, [1]),
        probability=min(float(share), 1.0),
        weights=weights,
    )
