"""Terms: what a channel's sales look at, and what its stock is found by (``channel_terms``).

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
_ITEMS_WITH: Final = """
select u.term, s.item_id from unnest($2::bigint[]) as u (term)
 cross join lateral (
   select item_id from stock_term where shop_id = $1 and term = u.term order by item_id offset 0) s
"""
_STOCK_TERMS: Final = """
select u.id as item_id, s.term from unnest($3::uuid[]) as u (id)
 cross join lateral (
   select term from stock_term
    where shop_id = $1 and channel_id = $2 and item_id = u.id offset 0) s
"""
_ADD_STOCK: Final = """
insert into stock_term (shop_id, channel_id, item_id, term)
select $1, $2, u.id, u.term from unnest($3::uuid[], $4::bigint[]) as u (id, term)
"""
_DROP_STOCK: Final = """
delete from stock_term s using unnest($3::uuid[], $4::bigint[]) as u (id, term)
 where s.shop_id = $1 and s.channel_id = $2 and s.item_id = u.id and s.term = u.term
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
_MEASURE_ALL: Final = """
update stock_count set items_then = items_now
 where shop_id = $1 and channel_id = $2 and items_then <> items_now
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
    gone, come = _difference(before, now)
    if gone:
        await con.execute(_DROP, shop_id, *gone)
    if come:
        await con.execute(_ADD, shop_id, *come)


async def items_with(
    con: Connection, shop_id: UUID, terms: Collection[int]
) -> dict[int, list[UUID]]:
    """Find the items of the stock by term, in order of their ids."""
    found: dict[int, list[UUID]] = defaultdict(list)
    for row in await con.fetch(_ITEMS_WITH, shop_id, list(terms)):
        found[row["term"]].append(row["item_id"])
    return found


async def terms_of_items(
    con: Connection, shop_id: UUID, channel_id: UUID, item_ids: Collection[UUID]
) -> dict[UUID, set[int]]:
    """Read by what these items were found so far."""
    found: dict[UUID, set[int]] = defaultdict(set)
    for row in await con.fetch(_STOCK_TERMS, shop_id, channel_id, list(item_ids)):
        found[row["item_id"]].add(row["term"])
    return found


async def keep_item_terms(
    con: Connection, shop_id: UUID, channel_id: UUID, before: Kept, now: Kept
) -> set[int]:
    """Write down by what items are found, given by what they were, and count how many there are.

    Returns:
        The terms that are found more or less often now.
    """
    gone, come = _difference(before, now)
    more: dict[int, int] = defaultdict(int)
    for sign, part, statement in ((-1, gone, _DROP_STOCK), (1, come, _ADD_STOCK)):
        if part:
            await con.execute(statement, shop_id, channel_id, *part)
            for term in part[1]:
                more[term] += sign
    if more:
        ordered = sorted(more.items())
        await con.execute(_COUNT, shop_id, channel_id, *map(list, zip(*ordered, strict=True)))
    return set(more)


async def measure(
    con: Connection, shop_id: UUID, channel_id: UUID, terms: Collection[int] | None
) -> None:
    """Take the present numbers for how common things are: of all terms, or of new ones of these."""
    if terms is None:
        await con.execute(_MEASURE_ALL, shop_id, channel_id)
    elif terms:
        await con.execute(_MEASURE_NEW, shop_id, channel_id, list(terms))


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


def _difference(
    before: Kept, now: Kept
) -> tuple[tuple[list[UUID], list[int]] | None, tuple[list[UUID], list[int]] | None]:
    """Terms that go and terms that come, each as two lists, ids and terms; None where none."""
    return _missing(before, now), _missing(now, before)


def _missing(these: Kept, those: Kept) -> tuple[list[UUID], list[int]] | None:
    pairs = [
        (key, term)
        for key, terms in these.items()
        for term in sorted(set(terms) - set(those.get(key, ())))
    ]
    return ([key for key, _ in pairs], [term for _, term in pairs]) if pairs else None
