"""How far two titles speak of one thing, word by word.

Fellegi and Sunter's weights with words for fields: a word both titles have counts log2(m/u), u
being the share of the stock's titles with it, so that a rare word counts more than a common one
(Winkler's frequency-based weights); a word that is nearly the same counts a little; a word of the
item that the sale's title lacks counts against it. The shares m are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise

from rapidfuzz.distance import JaroWinkler

from stallkeep.domain.matching.match_weights import agreement_bits

KEPT, SLIPPED, LOST = 0.85, 0.08, 0.07  # m: what becomes of a title's word on its way to a sale
LOST_TOO = 0.25  # once a word is lost: titles are cut short as a whole
JOINED = 0.05  # two words written as one, or one as two
NEAR = 0.88  # Jaro-Winkler, which forgives a slip and a word cut short
NEAR_WORDS = 4  # words as near as that to one word, itself included
NEAR_BY_CHANCE = 0.002
ADDED_BITS = -0.5  # a word that only the sale's title has: channels add words
MOST_ADDED = 6
SHORTEST_NEAR = 3
MOST_KNOWN_BITS = 6.0  # of one more word of a title all the same


def word_bits(
    given: Sequence[str], own: Sequence[str], users: Mapping[str, Sequence[str]], size: int
) -> float:
    """Weigh the words of a sale's title against those of an item's.

    Args:
        given: Words of the sale's title.
        own: Words of the item's.
        users: Word to the items whose title has it.
        size: Titles in stock.

    Returns:
        Match weight in bits: this item against an unrelated one.
    """  # fmt: skip
    ours = dict.fromkeys(own)
    theirs, joins = _respelt(list(dict.fromkeys(given)), ours)
    bits = joins * math.log2(JOINED)
    left = [word for word in theirs if word not in ours]
    lost = 0
    for word in ours:
        if word in theirs:
            bits += agreement_bits(KEPT, max(len(users.get(word, ())), 1) / size)
            continue
        near = _nearest(word, left)
        if near is None:
            lost += 1
            continue
        left.remove(near)
        usual = NEAR_WORDS * len(users.get(word, ())) / size + NEAR_BY_CHANCE
        bits += agreement_bits(SLIPPED, min(usual, 1.0))
    if lost:
        bits += math.log2(LOST) + (lost - 1) * math.log2(LOST_TOO)
    return bits + ADDED_BITS * min(len(left), MOST_ADDED)


def _respelt(given: list[str], own: Mapping[str, None]) -> tuple[list[str], int]:
    """Write two words that are one of the item's, and one that is two of them, as the item does."""
    apart = {first + second: (first, second) for first, second in pairwise(own)}
    out: list[str] = []
    joins = 0
    for word in given:
        if out and word not in own and out[-1] not in own and out[-1] + word in own:
            out[-1] += word
            joins += 1
        elif word not in own and word in apart:
            out += apart[word]
            joins += 1
        else:
            out.append(word)
    return out, joins


def _nearest(word: str, others: Sequence[str]) -> str | None:
    if len(word) < SHORTEST_NEAR:
        return None
    best, found = NEAR, None
    for other in others:
        ratio = JaroWinkler.similarity(word, other, score_cutoff=best)
        if ratio >= best and len(other) >= SHORTEST_NEAR:
            best, found = ratio, other
    return found


def most_bits(same_title_bits: float, words: int) -> float:
    """The most that titles may weigh against "no item of the stock".

    What is sold besides the stock has titles of the same trade, so even a title that is the same
    is no proof; each word beyond the second halves the chance that it is so by accident.
    """
    return same_title_bits + min(max(words - 2, 0), MOST_KNOWN_BITS)
