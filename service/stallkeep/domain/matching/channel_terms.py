"""What ties a channel's sales to its stock and to each other, each tie as one number.

A sale remembers the terms it looked at, an item those it can be found by. So what is new finds
what it concerns, with one look-up per term. A term is a digest of its text with its kind in the
lowest four bits: two texts that share a digest only make a run look at a sale too many.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from enum import IntEnum
from hashlib import blake2b
from uuid import UUID

_KIND_BITS = 4
KIND_MASK = (1 << _KIND_BITS) - 1
"""What of a term tells its kind."""


class Tie(IntEnum):
    """Kinds of terms.

    Of sales: TITLE (its title, whole), RARE (a word that finds items alone), SHARED (a word that
    finds items together with another), REFERENCE (one that no listing has), ITEM (a piece it may
    be of), AMOUNT (of a payment). Of refunds: BACK
    (an amount some payment of which it gives back), PAYMENT (the one it gives back), GIVEN (that
    one's amount), NAMED (an outside id it names). Of items: TITLE, WORD, PRICE, REFERENCE.
    SIZE and ENGINE stand for the stock as a whole.
    """

    TITLE = 0
    WORD = 1
    PRICE = 2
    REFERENCE = 3
    RARE = 4
    SHARED = 5
    ITEM = 6
    AMOUNT = 8
    BACK = 9
    PAYMENT = 10
    NAMED = 11
    SIZE = 12
    ENGINE = 13
    GIVEN = 14


FOUND_BY = (Tie.TITLE, Tie.WORD)
"""Terms by which sales find items."""
COUNTED = (Tie.TITLE, Tie.WORD, Tie.PRICE, Tie.SIZE)
"""Terms of items whose number goes into comparisons."""


class Terms:
    """Makes the terms of one channel."""

    def __init__(self, channel_id: UUID) -> None:
        self._key = channel_id.bytes

    def of(self, tie: Tie, text: str) -> int:
        """Give the term for *text*: a signed number of 64 bits."""
        digest = blake2b(text.encode(), digest_size=8, key=self._key).digest()
        return as_tie(int.from_bytes(digest, "big", signed=True), tie)


def as_tie(term: int, tie: Tie) -> int:
    """Give the term of another kind for the same text."""
    return (term & ~KIND_MASK) | tie


def tie_of(term: int) -> Tie:
    """Tell a term's kind."""
    return Tie(term & KIND_MASK)


def of_kinds(terms: Iterable[int], kinds: Collection[Tie]) -> Iterator[int]:
    """Keep the terms of some kinds."""
    return (term for term in terms if term & KIND_MASK in kinds)


def joining(terms: Iterable[int]) -> list[int]:
    """Keep the terms by which sales are answered together: the pieces they may be of."""
    return [term for term in terms if term & KIND_MASK == Tie.ITEM]
