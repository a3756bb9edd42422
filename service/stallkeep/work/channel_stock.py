"""A channel's stock, as its sales are compared with it: kept by terms, read in parts.

How common a word or price is among the stock goes into every comparison, so that one item more
would change every answer a little. These numbers are therefore measured: for all words and prices
when the stock has grown or shrunk by more than a quarter since (and then everything is answered
anew), for a new word or price when it is first met. In between they stand. Which items have a
title or a word is always up to date.
"""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from typing import Final
from uuid import UUID

import msgspec

from stallkeep.domain.matching import RailPiece
from stallkeep.domain.matching.channel_stock import Stock, key_of
from stallkeep.domain.matching.channel_terms import Terms, Tie, as_tie, tie_of
from stallkeep.domain.matching.reconciliation import ENGINE_VERSION
from stallkeep.store import evidence as store
from stallkeep.store import stock_terms
from stallkeep.store.connection import Connection, Row
from stallkeep.store.match_terms import Kept
from stallkeep.store.shops import Shop
from stallkeep.work.in_turns import in_turns

MAY_GROW: Final = 0.25
"""Share of a stock that may come or go before everything is measured again."""
MAY_SPREAD: Final = 4
"""Times as common, and a block's worth more, as a word may become meanwhile."""
BLOCK: Final = 60
PART: Final = 5_000
"""Items or sales that are held in memory together."""


class Place(msgspec.Struct, frozen=True):
    """A channel within the transaction of its run."""

    con: Connection
    shop: Shop
    channel_id: UUID

    @property
    def terms(self) -> Terms:
        """Make terms of this channel."""
        return Terms(self.channel_id)


class Renewed(msgspec.Struct):
    """What a renewal of the stock found.

    Attributes:
        terms: Terms that items were or are found by, per item.
        outgrown: The measure no longer holds.
    """

    terms: list[frozenset[int]] = []
    outgrown: bool = False


async def is_measured(place: Place) -> bool:
    """Tell whether the stock was measured for the engine as it is now."""
    term = place.terms.of(Tie.ENGINE, "")
    counts = await stock_terms.counts_of(place.con, place.shop.shop_id, place.channel_id, [term])
    return counts.get(term, (0, 0))[0] == ENGINE_VERSION


async def measure_all(place: Place) -> Stock:
    """Bring all of the stock up to date, measure it, and give it as its titles are found by."""
    con, where = place.con, (place.shop.shop_id, place.channel_id)
    is_new = not await stock_terms.has_stock(con, *where)
    pieces: list[RailPiece] = []

    async def read(part: Sequence[UUID]) -> tuple[Kept, list[Row]]:
        before = {} if is_new else await stock_terms.terms_of_items(con, *where, part)
        return before, await store.channel_pieces(con, *where, part)

    def work_out(found: tuple[Kept, list[Row]]) -> tuple[Kept, Kept]:
        before, rows = found
        pieces.extend(map(_lean, rows))
        return before, {row["id"]: set(_terms_of(place.terms, row)) for row in rows}

    async def write(terms: tuple[Kept, Kept]) -> None:
        if is_new:
            await stock_terms.add_items(con, *where, terms[1])
        else:
            await stock_terms.keep_item_terms(con, *where, *terms)

    await in_turns(parts(await store.channel_stock(con, *where)), read, work_out, write)
    stock = asyncio.create_task(asyncio.to_thread(Stock, pieces))
    try:
        if is_new:
            await stock_terms.let_find_all(con, *where)
        await stock_terms.count_all(con, *where)
        await stock_terms.set_count(con, *where, place.terms.of(Tie.ENGINE, ""), ENGINE_VERSION)
        return await stock
    finally:
        stock.cancel()


def _lean(row: Row) -> RailPiece:
    """What of a piece goes into comparisons; a stock may hold a million."""
    return RailPiece(
        item_id=str(row["id"]),
        title=key_of(row["title"]),
        price_minor=row["price_minor"],
        quantity=row["quantity"],
        listed_on=row["listed_on"],
        ended_on=row["ended_on"],
    )


async def renew(place: Place, item_ids: Collection[UUID]) -> Renewed:
    """Bring what is known of these items up to date."""
    con, where = place.con, (place.shop.shop_id, place.channel_id)
    renewed = Renewed()
    more: Counter[int] = Counter()
    for part in parts(sorted(item_ids)):
        rows = await store.channel_pieces(con, *where, part)
        now = {row["id"]: set(_terms_of(place.terms, row)) for row in rows}
        before = await stock_terms.terms_of_items(con, *where, part)
        more.update(await stock_terms.keep_item_terms(con, *where, before, now))
        renewed.terms += [frozenset({*before.get(i, ()), *now.get(i, ())}) for i in part]
    await stock_terms.count_more(con, *where, more)
    counts = await stock_terms.counts_of(con, *where, more)
    size = place.terms.of(Tie.SIZE, "")
    renewed.outgrown = any(_outgrown(term == size, *both) for term, both in counts.items())
    return renewed


def _outgrown(is_size: bool, then: int, now: int) -> bool:
    if is_size:
        return abs(now - then) > MAY_GROW * then
    return now > MAY_SPREAD * then + BLOCK


def _terms_of(terms: Terms, row: Row) -> Iterator[int]:
    key = key_of(row["title"])
    yield terms.of(Tie.SIZE, "")
    if key:
        yield terms.of(Tie.TITLE, key)
    for word in set(key.split()):
        yield terms.of(Tie.WORD, word)
    for reference in row["references"]:
        yield terms.of(Tie.REFERENCE, reference)
    if row["price_minor"] is not None:
        yield terms.of(Tie.PRICE, str(row["price_minor"]))


def seekers(terms: Collection[int]) -> tuple[set[int], set[int]]:
    """Turn an item's terms into those of the sales it may concern: alone, and two together."""
    alone, together = set(), set()
    for term in terms:
        tie = tie_of(term)
        if tie in (Tie.TITLE, Tie.REFERENCE):
            alone.add(term)
        elif tie == Tie.WORD:
            alone.add(as_tie(term, Tie.RARE))
            together.add(as_tie(term, Tie.SHARED))
    return alone, together


def parts(ids: Sequence[UUID]) -> Iterator[Sequence[UUID]]:
    """Cut into parts that are held in memory together."""
    for start in range(0, len(ids), PART):
        yield ids[start : start + PART]
