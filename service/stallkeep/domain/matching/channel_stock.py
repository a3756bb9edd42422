"""The items of a stock as a channel's sales are compared with them, and how they are found.

A line is compared with items of the same title, and else with those that share one of its two
rarest title words, or two words where all of them are common.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any

import msgspec

from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.notes import words
from stallkeep.domain.matching.pieces import RailPiece

LARGEST_BLOCK = 60
LARGEST_SCAN = 2_000  # users of a word that are looked through for ones with a second word


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
            if key == piece.title:
                key = piece.title  # held once: a stock may have a million titles
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


def line_key(line: MoneyLine) -> str:
    """What a line's title, or else its note, is found by."""
    return key_of(line.title or line.note or "")
