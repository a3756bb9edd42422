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
from functools import cached_property
from typing import Any

import msgspec

from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.exact import enumerate_jointly, states
from stallkeep.domain.matching.line_answer import Candidate, LineAnswer, Weight
from stallkeep.domain.matching.match_weights import agreement_bits
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.money_parts import shared
from stallkeep.domain.matching.notes import words
from stallkeep.domain.matching.pieces import RailPiece
from stallkeep.domain.matching.title_words import most_bits, word_bits

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


class Measure(msgspec.Struct, frozen=True):
    """How common titles, words and prices are in a stock.

    Attributes:
        size: Items in stock.
        titles: Title without case and punctuation to the items that have it.
        words: Word of a title to the items that have it.
        prices: Price to the items that have it.
    """

    size: int
    titles: Mapping[str, int]
    words: Mapping[str, int]
    prices: Mapping[int | None, int]


class Reach(msgspec.Struct, frozen=True):
    """The items a line may be compared with, and by what they were found.

    Attributes:
        items: Their ids.
        title: They have the line's own title.
        rare: Words that find an item each alone.
        shared: Words of which an item must have two.
        absent: Words of the line that no item has.
    """

    items: Sequence[str]
    title: bool = False
    rare: Sequence[str] = ()
    shared: Sequence[str] = ()
    absent: Sequence[str] = ()


class _Users(Sequence[str]):
    """So many items, without naming them."""

    def __init__(self, number: int) -> None:
        self._number = number

    def __len__(self) -> int:
        return self._number

    def __getitem__(self, index: Any) -> Any:  # noqa: ANN401 - typing wants both overloads
        return ""


class Stock:
    """The items of a stock, indexed for comparison.

    Args:
        pieces: Of the whole stock, in order of their tag codes; with *measure* only those that
            may be compared.
        measure: How common titles, words and prices are; None counts them in *pieces*.
        users: Word to the items that have it, where *pieces* are not the whole stock.
    """

    def __init__(
        self,
        pieces: Sequence[RailPiece],
        measure: Measure | None = None,
        users: Mapping[str, Sequence[str]] | None = None,
    ) -> None:
        self.pieces = {piece.item_id: piece for piece in pieces}
        self.titles: dict[str, list[str]] = defaultdict(list)
        self.keys: dict[str, str] = {}
        for piece in pieces:
            key = key_of(piece.title)
            self.keys[piece.item_id] = key
            self.titles[key].append(piece.item_id)
        self._users = users
        self._measure = measure
        self.size = max(len(pieces) if measure is None else measure.size, 1)
        self.prices: Mapping[int | None, int] = (
            Counter(piece.price_minor for piece in pieces) if measure is None else measure.prices
        )

    @cached_property
    def words(self) -> Mapping[str, Sequence[str]]:
        """Word to the items that have it; with a measure only their number tells."""
        if self._measure is None:
            return self._listed
        return {word: _Users(number) for word, number in self._measure.words.items() if number}

    @cached_property
    def _listed(self) -> Mapping[str, Sequence[str]]:
        if self._users is not None:
            return self._users
        listed: dict[str, list[str]] = defaultdict(list)
        for key, items in self.titles.items():
            for word in set(key.split()):
                listed[word].extend(items)
        return listed

    def share_of_title(self, key: str) -> float:
        """Tell which share of the stock has a title."""
        number = len(self.titles[key]) if self._measure is None else self._measure.titles[key]
        return min(number / self.size, 1.0)

    def share_of_price(self, price_minor: int) -> float:
        """Tell which share of the stock has a price."""
        return min(max(self.prices.get(price_minor, 0), 1) / self.size, 1.0)

    def block(self, line: MoneyLine, key: str) -> list[str]:
        """Items worth comparing with a line: its title's, or else those with its rarest words."""
        reach = self.reach(key)
        price = line.amount_minor - (line.postage_minor or 0)
        if reach.title:
            same = list(reach.items)
            if len(same) > LARGEST_BLOCK:
                same = [i for i in same if self.pieces[i].price_minor == price] or same
            return same[:LARGEST_BLOCK]
        if not reach.shared:
            return sorted(reach.items)
        counts = Counter(reach.items)
        both = [item for item, number in counts.items() if number > 1]
        both.sort(key=lambda i: (self.pieces[i].price_minor != price, -counts[i], i))
        return sorted(both[:LARGEST_BLOCK])

    def reach(self, key: str) -> Reach:
        """Find the items that a title can be compared with; a title without words finds none.

        With *shared* words an item is named once per word.
        """
        if not key:
            return Reach(())
        if same := self.titles.get(key):
            return Reach(same, title=True)
        rare, shared, absent = self.choose(key)
        if rare:
            found = {i for word in rare for i in self._listed.get(word, ())}
            return Reach(sorted(found), rare=rare, absent=absent)
        named = [i for word in shared for i in self._listed.get(word, ())]
        return Reach(named, shared=shared, absent=absent)

    def choose(self, key: str) -> tuple[list[str], list[str], list[str]]:
        """Choose the words of a title by which to find items: rare, shared, and those of no item.

        Rare ones are the two rarest, where few items have them; else the three rarest of which
        an item must have two.
        """
        own = dict.fromkeys(key.split())
        absent = [word for word in own if word not in self.words]
        known = sorted(own.keys() & self.words.keys(), key=lambda w: (len(self.words[w]), w))
        rare = [word for word in known[:2] if len(self.words[word]) <= LARGEST_BLOCK]
        common = [word for word in known if len(self.words[word]) <= LARGEST_SCAN]
        return rare, [] if rare else common[:3], absent


def key_of(title: str) -> str:
    """A title without case, punctuation and order of blanks."""
    return " ".join(words(title))


def match_channel(
    evidence: Evidence,
    lines: Sequence[MoneyLine],
    taken: Mapping[str, int],
    threshold: float,
    *,
    stock: Stock | None = None,
    blocks: Mapping[str, Sequence[str]] | None = None,
) -> dict[str, LineAnswer]:
    """Answer the sales of a channel that no reference settles.

    Args:
        evidence: Its pieces are the stock; its rulings say what a line is not for.
        lines: Lines to answer.
        taken: Units per item id that are spoken for.
        threshold: Probability from which an item counts as matched.
        stock: Instead of the pieces of *evidence*.
        blocks: Items worth comparing by transaction id; worked out where not given.
    """
    stock = stock or Stock(evidence.pieces)
    refused = {
        (r.transaction_id, r.item_ids[0])
        for r in evidence.rulings
        if r.verdict == "refused" and len(r.item_ids) == 1
    }
    pairs: dict[str, list[Pair]] = {}
    for line in lines:
        key = line_key(line)
        block = stock.block(line, key) if blocks is None else blocks.get(line.transaction_id, ())
        found = [
            compared(stock, line, key, item)
            for item in block
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


def line_key(line: MoneyLine) -> str:
    """What a line's title, or else its note, is found by."""
    return key_of(line.title or line.note or "")


def may_be_of(stock: Stock, line: MoneyLine) -> list[str]:
    """Items a line may be of, in any company; the rest of its block changes nothing.

    Whatever else is taken or refused, a pair below these bounds is not kept and does not change
    the weight of another.
    """
    key = line_key(line)
    found = (compared(stock, line, key, item) for item in stock.block(line, key))
    return [pair.item_id for pair in found if pair.bits >= -NEGLIGIBLE_BITS or pair.excess > 0]


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
    usual = stock.share_of_title(own)
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
        bits = agreement_bits(SAME_PRICE, stock.share_of_price(paid))
        return Weight(bits=bits, sentence="sold at the asking price")
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
