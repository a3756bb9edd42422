"""Terms that a channel's sales look at (``channel_terms``).

What a sale looks at stands in a row of its own; it is found by each of these terms, one row each.
A channel that is new is written as a whole, in the order of the terms: row by row, each would go to
another place of the index.

Each term is looked up by itself: "lateral" and "offset 0" leave the planner no other way, whatever
the statistics say or lack.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Collection, Mapping, Sequence
from contextlib import asynccontextmanager
from typing import Final
from uuid import UUID

from stallkeep.store.array_text import array_text
from stallkeep.store.connection import Connection

_LINES_WITH: Final = """
select distinct m.transaction_id from unnest($2::bigint[]) as u (term)
 cross join lateral (
   select transaction_id from match_term where shop_id = $1 and term = u.term offset 0) m
"""
# A word that many items have says nothing alone: the sale must have looked at two of one item's.
_LINES_WITH_TWO: Final = """
select distinct transaction_id from (
  select t.transaction_id
    from unnest($2::int[], $3::bigint[]) as u (item, term)
   cross join lateral (
     select transaction_id from match_term where shop_id = $1 and term = u.term offset 0) t
   group by u.item, t.transaction_id having count(*) > 1) x
"""
_TERMS: Final = """
select u.id as transaction_id, l.terms from unnest($3::uuid[]) as u (id)
 cross join lateral (
   select terms from match_line
    where shop_id = $1 and channel_id = $2 and transaction_id = u.id offset 0) l
"""
_ANY: Final = "select true from match_line where shop_id = $1 and channel_id = $2 limit 1"
# Arrays travel as text: the driver takes a list of lists for an array of two dimensions.
_KEEP: Final = """
insert into match_line as l (shop_id, channel_id, transaction_id, terms)
select $1, $2, u.id, u.terms::bigint[] from unnest($3::uuid[], $4::text[]) as u (id, terms)
    on conflict (shop_id, channel_id, transaction_id) do update set terms = excluded.terms
"""
_FORGET: Final = """
delete from match_line where shop_id = $1 and channel_id = $2 and transaction_id = any($3)
"""
_ADD: Final = """
insert into match_term (shop_id, term, transaction_id)
select $1, u.term, u.id from unnest($2::uuid[], $3::bigint[]) as u (id, term)
"""
_DROP: Final = """
delete from match_term m using unnest($2::uuid[], $3::bigint[]) as u (id, term)
 where m.shop_id = $1 and m.term = u.term and m.transaction_id = u.id
"""
_FILL: Final = """
insert into match_term (shop_id, term, transaction_id)
select $1, t.term, l.transaction_id
  from match_line l cross join lateral unnest(l.terms) as t (term)
 where l.shop_id = $1 and l.channel_id = $2 order by t.term, l.transaction_id
"""
Kept = Mapping[UUID, Collection[int]]
"""Transaction or item → its terms."""


# A whole channel is sorted and counted in memory, or at least not in thousands of small pieces.
_ROOM: Final = "set local work_mem = '64MB'"
_NO_ROOM: Final = "set local work_mem to default"


@asynccontextmanager
async def room(con: Connection) -> AsyncIterator[None]:
    """Give the server memory for sorting a whole channel."""
    await con.execute(_ROOM)
    yield
    await con.execute(_NO_ROOM)


async def lines_with(con: Connection, shop_id: UUID, terms: Collection[int]) -> set[UUID]:
    """Find the sales that look at any of these terms."""
    if not terms:
        return set()
    return {row["transaction_id"] for row in await con.fetch(_LINES_WITH, shop_id, list(terms))}


async def lines_with_two(
    con: Connection, shop_id: UUID, terms: Sequence[Collection[int]]
) -> set[UUID]:
    """Find the sales that look at two terms of any of these sets."""
    pairs = [(number, term) for number, own in enumerate(terms) for term in own]
    if not pairs:
        return set()
    rows = await con.fetch(_LINES_WITH_TWO, shop_id, *map(list, zip(*pairs, strict=True)))
    return {row["transaction_id"] for row in rows}


async def has_lines(con: Connection, shop_id: UUID, channel_id: UUID) -> bool:
    """Tell whether it was written down before what any sale of the channel looks at."""
    return bool(await con.fetchval(_ANY, shop_id, channel_id))


async def terms_of_lines(
    con: Connection, shop_id: UUID, channel_id: UUID, transaction_ids: Collection[UUID]
) -> dict[UUID, set[int]]:
    """Read what these sales looked at when they were last answered."""
    rows = await con.fetch(_TERMS, shop_id, channel_id, list(transaction_ids))
    return {row["transaction_id"]: set(row["terms"]) for row in rows}


async def add_lines(con: Connection, shop_id: UUID, channel_id: UUID, lines: Kept) -> None:
    """Write down what sales look at; they are not found by it yet."""
    texts = [array_text(sorted(terms)) for terms in lines.values()]
    await con.execute(_KEEP, shop_id, channel_id, list(lines), texts)


async def let_find_lines(con: Connection, shop_id: UUID, channel_id: UUID) -> None:
    """Let all sales of a channel be found that were written down for the first time."""
    async with room(con):
        await con.execute(_FILL, shop_id, channel_id)


async def keep_line_terms(
    con: Connection, shop_id: UUID, channel_id: UUID, before: Kept, now: Kept
) -> None:
    """Write down what sales look at, given what they looked at before."""
    if forgotten := before.keys() - now.keys():
        await con.execute(_FORGET, shop_id, channel_id, list(forgotten))
    if changed := {key: terms for key, terms in now.items() if before.get(key) != terms}:
        await add_lines(con, shop_id, channel_id, changed)
    if gone := missing(before, now):
        await con.execute(_DROP, shop_id, *gone)
    if come := missing(now, before):
        await con.execute(_ADD, shop_id, *come)


def missing(these: Kept, those: Kept) -> tuple[list[UUID], list[int]] | None:
    """Give the terms of these that those lack, as two lists, ids and terms; None where none do."""
    pairs = [
        (key, term)
        for key, terms in these.items()
        for term in sorted(set(terms) - set(those.get(key, ())))
    ]
    return ([key for key, _ in pairs], [term for _, term in pairs]) if pairs else None
