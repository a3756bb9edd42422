"""One sale of a channel compared with one item of its stock: match weights in bits.

The weights are Fellegi and Sunter's: log2(m/u) per comparison, u taken from how common the title,
its words and the price are in this stock.
"""

from __future__ import annotations

import math

import msgspec

from stallkeep.domain.matching.channel_stock import Stock
from stallkeep.domain.matching.line_answer import Weight
from stallkeep.domain.matching.match_weights import agreement_bits
from stallkeep.domain.matching.money_line import MoneyLine
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
LEAST_SHARE = 0.5


class Pair(msgspec.Struct, frozen=True, gc=False):
    """One item compared with one line: weight against "no item", and the evidence.

    *excess* is by how much its title weighs more than titles may against "no item".
    """

    item_id: str
    bits: float
    weights: tuple[Weight, ...]
    excess: float = 0.0


def may_be_of(stock: Stock, line: MoneyLine, key: str) -> list[str]:
    """Items that a line found by *key* may be of, in any company; no others change anything.

    Whatever else is taken or refused, a pair below these bounds is not kept and does not change
    the weight of another.
    """
    found = (compared(stock, line, key, item) for item in stock.block(line, key))
    return [pair.item_id for pair in found if pair.bits >= -NEGLIGIBLE_BITS or pair.excess > 0]


def worth_keeping(pairs: list[Pair]) -> list[Pair]:
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
