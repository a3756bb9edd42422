"""Terms that a channel's stock is found by, and how many of its items have each.

What an item has stands in a row of its own; sales find it by some of them, one row each. A stock
that is new is written as a whole, in the order of the terms: row by row, each would go to another
place of the index.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping
from typing import Final
from uuid import UUID

from stallkeep.domain.matching.channel_terms import COUNTED, FOUND_BY, KIND_MASK, of_kinds
from stallkeep.store.array_text import array_text
from stallkeep.store.connection import Connection
from stallkeep.store.match_terms import Kept, missing, room

# As with the terms of sales, "lateral" and "offset 0" leave the planner no other way.
_ITEMS_WITH: Final = """
select u.term, s.item_id from unnest($2::bigint[]) as u (term)
 cross join lateral (
   select item_id from stock_term where shop_id = $1 and term = u.term order by item_id offset 0) s
"""
_TERMS: Final = """
select u.id as item_id, s.terms from unnest($3::uuid[]) as u (id)
 cross join lateral (
   select terms from stock_piece
    where shop_id = $1 and channel_id = $2 and item_id = u.id offset 0) s
"""
_ANY: Final = "select true from stock_piece where shop_id = $1 and channel_id = $2 limit 1"
# Arrays travel as text: the driver takes a list of lists for an array of two dimensions.
_KEEP: Final = """
insert into stock_piece as p (shop_id, channel_id, item_id, terms)
select $1, $2, u.id, u.terms::bigint[] from unnest($3::uuid[], $4::text[]) as u (id, terms)
    on conflict (shop_id, channel_id, item_id) do update set terms = excluded.terms
"""
_FORGET: Final = """
delete from stock_piece where shop_id = $1 and channel_id = $2 and item_id = any($3)
"""
_ADD: Final = """
insert into stock_term (shop_id, term, item_id)
select $1, u.term, u.id from unnest($2::uuid[], $3::bigint[]) as u (id, term)
"""
_DROP: Final = """
delete from stock_term s using unnest($2::uuid[], $3::bigint[]) as u (id, term)
 where s.shop_id = $1 and s.term = u.term and s.item_id = u.id
"""
_FILL: Final = """
insert into stock_term (shop_id, term, item_id)
select $1, t.term, p.item_id from stock_piece p cross join lateral unnest(p.terms) as t (term)
 where p.shop_id = $1 and p.channel_id = $2 and t.term & $3 = any($4::bigint[])
 order by t.term, p.item_id
"""
_COUNT: Final = """
insert into stock_count as c (shop_id, channel_id, term, items_then, items_now)
select $1, $2, u.term, 0, u.more from unnest($3::bigint[], $4::bigint[]) as u (term, more)
    on conflict (shop_id, channel_id, term)
    do update set items_now = c.items_now + excluded.items_now
"""
_MEASURE_NEW: Final = """
update stock_count set items_then = items_now
 where shop_id = $1 and channel_id = $2 and term = any($3) and items_then = 0 and items_now > 0
"""
_UNCOUNT: Final = "delete from stock_count where shop_id = $1 and channel_id = $2"
_COUNT_ALL: Final = """
insert into stock_count (shop_id, channel_id, term, items_then, items_now)
select $1, $2, t.term, count(*), count(*)
  from stock_piece p cross join lateral unnest(p.terms) as t (term)
 where p.shop_id = $1 and p.channel_id = $2 and t.term & $3 = any($4::bigint[])
 group by t.term order by t.term
"""
_SET: Final = """
insert into stock_count (shop_id, channel_id, term, items_then, items_now)
values ($1, $2, $3, $4, $4)
    on conflict (shop_id, channel_id, term) do update set items_then = $4, items_now = $4
"""
_COUNTS: Final = """
select u.term, c.items_then, c.items_now from unnest($3::bigint[]) as u (term)
 cross join lateral (
   select items_then, items_now from stock_count
    where shop_id = $1 and channel_id = $2 and term = u.term offset 0) c
"""


async def items_with(
    con: Connection, shop_id: UUID, terms: Collection[int]
) -> dict[int, list[UUID]]:
    """Find the items of the stock by term, in order of their ids."""
    found: dict[int, list[UUID]] = defaultdict(list)
    for row in await con.fetch(_ITEMS_WITH, shop_id, list(terms)):
        found[row["term"]].append(row["item_id"])
    return found


async def has_stock(con: Connection, shop_id: UUID, channel_id: UUID) -> bool:
    """Tell whether anything of the channel's stock was written down before."""
    return bool(await con.fetchval(_ANY, shop_id, channel_id))


async def terms_of_items(
    con: Connection, shop_id: UUID, channel_id: UUID, item_ids: Collection[UUID]
) -> dict[UUID, set[int]]:
    """Read the terms that these items had so far."""
    rows = await con.fetch(_TERMS, shop_id, channel_id, list(item_ids))
    return {row["item_id"]: set(row["terms"]) for row in rows}


async def add_items(con: Connection, shop_id: UUID, channel_id: UUID, items: Kept) -> None:
    """Write down the terms of items; sales do not find them yet."""
    texts = [array_text(sorted(terms)) for terms in items.values()]
    await con.execute(_KEEP, shop_id, channel_id, list(items), texts)


async def let_find_all(con: Connection, shop_id: UUID, channel_id: UUID) -> None:
    """Let sales find the items of a stock that is new."""
    async with room(con):
        await con.execute(_FILL, shop_id, channel_id, KIND_MASK, list(FOUND_BY))


async def keep_item_terms(
    con: Connection, shop_id: UUID, channel_id: UUID, before: Kept, now: Kept
) -> Counter[int]:
    """Write down the terms of items, given those they had before.

    Returns:
        By how many more items each term is had; less than 0 for fewer.
    """
    if gone := before.keys() - now.keys():
        await con.execute(_FORGET, shop_id, channel_id, list(gone))
    if changed := {key: terms for key, terms in now.items() if before.get(key) != terms}:
        await add_items(con, shop_id, channel_id, changed)
    more: Counter[int] = Counter()
    for sign, these, those, statement in ((-1, before, now, _DROP), (1, now, before, _ADD)):
        for terms in these.values():
            for term in of_kinds(terms, COUNTED):
                more[term] += sign
        found = missing(_found_by(these), _found_by(those))
        if found:
            await con.execute(statement, shop_id, *found)
    return Counter({term: number for term, number in more.items() if number})


def _found_by(items: Kept) -> dict[UUID, set[int]]:
    return {key: set(of_kinds(terms, FOUND_BY)) for key, terms in items.items()}


async def count_more(
    con: Connection, shop_id: UUID, channel_id: UUID, more: Mapping[int, int]
) -> None:
    """Count so many more items for each term, and measure the terms that are new."""
    if more:
        terms, numbers = map(list, zip(*sorted(more.items()), strict=True))
        await con.execute(_COUNT, shop_id, channel_id, terms, numbers)
        await con.execute(_MEASURE_NEW, shop_id, channel_id, terms)


async def count_all(con: Connection, shop_id: UUID, channel_id: UUID) -> None:
    """Count all items anew, and take these numbers for how common their terms are."""
    await con.execute(_UNCOUNT, shop_id, channel_id)
    async with room(con):
        await con.execute(_COUNT_ALL, shop_id, channel_id, KIND_MASK, list(COUNTED))


async def set_count(
    con: Connection, shop_id: UUID, channel_id: UUID, term: int, number: int
) -> None:
    """Set a number outright."""
    await con.execute(_SET, shop_id, channel_id, term, number)


async def counts_of(
    con: Connection, shop_id: UUID, channel_id: UUID, terms: Collection[int]
) -> dict[int, tuple[int, int]]:
    """Read how many items had each term when it was last measured, and how many have it now."""
    rows = await con.fetch(_COUNTS, shop_id, channel_id, list(terms))
    return {row["term"]: (row["items_then"], row["items_now"]) for row in rows}
