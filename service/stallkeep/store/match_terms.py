"""Terms that a channel's sales look at (``channel_terms``).

Each is looked up by itself: "lateral" and "offset 0" leave the planner no other way, whatever the
statistics say or lack.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import Final
from uuid import UUID

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
_TERMS_OF: Final = """
select u.id as transaction_id, m.term from unnest($2::uuid[]) as u (id)
 cross join lateral (
   select term from match_term where shop_id = $1 and transaction_id = u.id offset 0) m
"""
_ADD: Final = """
insert into match_term (shop_id, transaction_id, term)
select $1, u.id, u.term from unnest($2::uuid[], $3::bigint[]) as u (id, term)
"""
_DROP: Final = """
delete from match_term m using unnest($2::uuid[], $3::bigint[]) as u (id, term)
 where m.shop_id = $1 and m.transaction_id = u.id and m.term = u.term
"""
Kept = Mapping[UUID, Collection[int]]
"""Transaction or item → its terms."""


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


async def terms_of_lines(
    con: Connection, shop_id: UUID, transaction_ids: Collection[UUID]
) -> dict[UUID, set[int]]:
    """Read what these sales looked at when they were last answered."""
    found: dict[UUID, set[int]] = defaultdict(set)
    for row in await con.fetch(_TERMS_OF, shop_id, list(transaction_ids)):
        found[row["transaction_id"]].add(row["term"])
    return found


async def keep_line_terms(con: Connection, shop_id: UUID, before: Kept, now: Kept) -> None:
    """Write down what sales look at, given what they looked at before."""
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
