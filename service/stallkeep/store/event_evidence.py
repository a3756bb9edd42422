"""What an event's evidence needs beside its rail, its lines and its words."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final
from uuid import UUID

from stallkeep.store.connection import Connection, Row

# Sales of channels only: what a run made of another event would move this one, and back again.
_PROPOSED: Final = """
select mi.item_id, t.occurred_on as sold_on, max(mi.quantity)::integer as quantity,
       least(sum(m.probability), 1.0) as probability
  from unnest($2::uuid[]) as u (id)
 cross join lateral (
   select * from match_item where shop_id = $1 and item_id = u.id offset 0) mi
 cross join lateral (
   select * from match where shop_id = $1 and id = mi.match_id offset 0) m
 cross join lateral (
   select * from transaction where shop_id = $1 and id = m.transaction_id offset 0) t
 where m.state = 'proposed' and t.event_id is null and t.kind in ('sale', 'payment')
 group by mi.item_id, t.id, t.occurred_on
 order by mi.item_id, t.occurred_on, probability
"""
_OWNED: Final = "select id, quantity from item where shop_id = $1 and id = any($2)"
_CAME_BACK: Final = """
select sl.item_id, s.transaction_id, sum(sl.quantity)::integer as quantity
  from sale s join sale_line sl on sl.shop_id = s.shop_id and sl.sale_id = s.id
 where s.shop_id = $1 and s.event_id = $2 and s.state = 'done' and sl.state = 'returned'
   and sl.item_id is not null
 group by sl.item_id, s.transaction_id
"""
_CASH_BACK: Final = """
select occurred_on, -sum(amount_minor)::bigint as amount_minor from transaction
 where shop_id = $1 and event_id = $2 and kind = 'refund' and import_id is null
   and method = 'cash'
 group by occurred_on
"""
_BESIDE: Final = """
select t.id, t.kind, t.amount_minor, t.currency, t.occurred_on, t.occurred_at
  from import i join transaction t on t.shop_id = i.shop_id and t.import_id = i.id
 where i.shop_id = $1 and i.event_id = $2 and t.event_id is distinct from $2
   and t.kind in ('payment', 'sale', 'refund')
 order by t.ordered_at, t.id
"""


async def proposed_elsewhere(
    con: Connection, shop_id: UUID, item_ids: Collection[UUID]
) -> list[Row]:
    """Read which of these items channels' sales may have been of, sale by sale, by day."""
    return await con.fetch(_PROPOSED, shop_id, list(item_ids))


async def owned(con: Connection, shop_id: UUID, item_ids: Collection[UUID]) -> dict[UUID, int]:
    """Read how many there are of each item, those sold included."""
    rows = await con.fetch(_OWNED, shop_id, list(item_ids))
    return {row["id"]: row["quantity"] for row in rows}


async def came_back(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Read what was sold at an event and came back: item, payment if known, and how many."""
    return await con.fetch(_CAME_BACK, shop_id, event_id)


async def cash_given_back(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Sum the cash that was given back for entered sales, by day; no import tells of it."""
    return await con.fetch(_CASH_BACK, shop_id, event_id)


async def lines_beside(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Read what imports for this event brought that is on none of its days."""
    return await con.fetch(_BESIDE, shop_id, event_id)
