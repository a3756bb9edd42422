"""Everything a reconciliation reads, as it is stored."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from typing import Any, Final
from uuid import UUID

from stallkeep.store.connection import Connection, Row

_RAIL: Final = """
select i.id, i.tag_code, i.title, i.category, coalesce(r.price_minor, i.price_minor) as price_minor,
       r.quantity, i.quantity - i.sold as left_over, r.put_out_at, r.counted_home, i.cost_minor,
       i.floor_minor,
       coalesce((select array_agg(l.reference order by l.reference) from listing l
                  where l.shop_id = i.shop_id and l.item_id = i.id), '{}') as references
  from rail r join item i on i.shop_id = r.shop_id and i.id = r.item_id
 where r.shop_id = $1 and r.event_id = $2
 order by i.tag_code
"""
# What a person decided or rang up is evidence everywhere. What a run worked out is evidence one way
# only, from the channels and from earlier events to an event: in a circle, every run would move
# the next, with nothing new to know.
_SOLD_ELSEWHERE: Final = """
select sl.item_id, s.sold_on, sum(sl.quantity)::integer as quantity,
       min(coalesce(m.probability, 1)) as probability
  from sale_line sl
  join sale s on s.shop_id = sl.shop_id and s.id = sl.sale_id and s.state = 'done'
  left join match m on m.shop_id = s.shop_id and m.sale_id = s.id and m.state = 'matched'
 where sl.shop_id = $1 and sl.state = 'sold' and sl.item_id = any($2)
   and s.event_id is distinct from $3
   and (m.id is null or m.decided_by is not null or s.event_id is null or exists (
          select from event o join event e on e.shop_id = o.shop_id and e.id = $3
           where o.shop_id = s.shop_id and o.id = s.event_id
             and (o.starts_on, o.id) < (e.starts_on, e.id)))
 group by sl.item_id, s.sold_on
 order by sl.item_id, s.sold_on
"""
# A channel's run reads a few things of big tables. Each is looked up by its id: "lateral" and
# "offset 0" leave the planner no other way, whatever the statistics say or lack.
# A match's sale names its transaction, too; by it the index on transactions finds the match.
_SOLD_OFF_CHANNEL: Final = """
select sl.item_id, s.sold_on, sum(sl.quantity)::integer as quantity,
       min(coalesce(m.probability, 1)) as probability
  from unnest($3::uuid[]) as u (id)
 cross join lateral (
   select l.sale_id, l.item_id, l.quantity from sale_line l
    where l.shop_id = $1 and l.item_id = u.id and l.state = 'sold' offset 0) sl
 cross join lateral (
   select s.id, s.sold_on, s.transaction_id from sale s
    where s.shop_id = $1 and s.id = sl.sale_id and s.state = 'done' and s.channel_id <> $2
   offset 0) s
  left join lateral (
   select m.id, m.decided_by, m.probability from match m
    where m.shop_id = $1 and m.transaction_id = s.transaction_id and m.state = 'matched'
      and m.sale_id = s.id offset 0) m on true
 where m.id is null or m.decided_by is not null
 group by sl.item_id, s.sold_on
 order by sl.item_id, s.sold_on
"""
_LINES: Final = """
select t.id, t.kind, t.amount_minor, t.currency, t.occurred_on, t.occurred_at, t.tip_minor,
       t.tax_minor, t.postage_minor, t.method, t.note, t.title, t.reference, t.tag_code,
       t.external_id, t.related_id, t.quantity, t.channel_id, t.event_id, t.import_id, t.row_key,
       t.occurrence, t.match_state, t.ordered_at
  from transaction t
 where t.shop_id = $1 and t.kind in ('payment', 'refund', 'sale') and {where}
   and not (t.kind = 'refund' and t.import_id is null)
 order by t.ordered_at, t.id
"""
_OF_EVENT: Final = _LINES.format(where="t.event_id = $2")
_OF_CHANNEL: Final = _LINES.replace(
    "from transaction t",
    """from unnest($3::uuid[]) as u (id)
 cross join lateral (
   select * from transaction l where l.shop_id = $1 and l.id = u.id offset 0) t""",
).format(where="t.channel_id = $2 and t.event_id is null")
# What tells what a line may be of; half the columns take half the time.
_LOOKED_AT: Final = """
select t.id, t.kind, t.amount_minor, t.currency, t.occurred_on, t.postage_minor, t.note, t.title,
       t.reference, t.external_id, t.related_id, t.quantity
  from unnest($3::uuid[]) as u (id)
 cross join lateral (
   select * from transaction l where l.shop_id = $1 and l.id = u.id offset 0) t
 where t.kind in ('payment', 'refund', 'sale') and t.channel_id = $2 and t.event_id is null
   and not (t.kind = 'refund' and t.import_id is null)
 order by t.id
"""
_IDS_OF_CHANNEL: Final = """
select t.id from transaction t
 where t.shop_id = $1 and t.channel_id = $2 and t.event_id is null
   and t.kind in ('payment', 'refund', 'sale')
   and ($3::date is null or t.occurred_on >= $3) and ($4::date is null or t.occurred_on <= $4)
 order by t.ordered_at, t.id
"""
_IDS_OF_IMPORTS: Final = """
select t.id from unnest($3::uuid[]) as u (id)
 cross join lateral (
   select * from transaction where shop_id = $1 and import_id = u.id offset 0) t
 where t.channel_id = $2 and t.event_id is null and t.kind in ('payment', 'refund', 'sale')
"""
# An outside id is part of the key that makes a row unique (domain/row_identity.py).
_PAYMENTS_NAMED: Final = """
select t.id, t.external_id, t.amount_minor from unnest($3::text[]) as u (row_key)
 cross join lateral (
   select * from transaction where shop_id = $1 and channel_id = $2 and row_key = u.row_key
    order by occurrence offset 0) t
 where t.event_id is null and t.kind in ('payment', 'sale') and t.currency = $4
"""
_RING_UPS: Final = """
select s.id, s.total_minor, s.sold_at, s.sold_on, s.method, s.transaction_id,
       array_agg(sl.item_id order by sl.item_id) filter (where sl.item_id is not null) as item_ids
  from sale s join sale_line sl on sl.shop_id = s.shop_id and sl.sale_id = s.id
 cross join lateral generate_series(1, case when sl.item_id is null then 1 else sl.quantity end)
 where s.shop_id = $1 and s.event_id = $2 and s.state = 'done' and s.origin <> 'match'
 group by s.shop_id, s.id order by s.sold_at, s.id
"""
_DAYS: Final = """
select day, float_minor, counted_cash_minor, taken_out_minor from event_day
 where shop_id = $1 and event_id = $2 order by day
"""
_STUBS: Final = """
select day, position, tag_code, price_minor, ordered from stub
 where shop_id = $1 and event_id = $2 order by day, position
"""
# Only from events before it: were events to learn from each other, every run would move the next.
_LEARNED: Final = """
select o.learned from event o
  join event e on e.shop_id = o.shop_id and e.id = $2
 where o.shop_id = $1 and o.learned is not null and o.state = 'closed'
   and (o.starts_on, o.id) < (e.starts_on, e.id)
 order by o.starts_on, o.id
"""
_CHANNEL_PIECES: Final = """
select i.id, i.tag_code, i.title, i.category, l.price_minor,
       i.quantity, i.quantity - i.sold as left_over, i.cost_minor, i.floor_minor,
       l.references, l.listed_on, l.ended_on
  from unnest($3::uuid[]) as u (id)
 cross join lateral (
   select count(*) as number, array_agg(reference order by reference) as references,
          max(price_minor) as price_minor, min(listed_on) as listed_on, max(ended_on) as ended_on
     from (select * from listing where shop_id = $1 and item_id = u.id offset 0) own
    where channel_id = $2 offset 0) l
 cross join lateral (select * from item i where i.shop_id = $1 and i.id = u.id offset 0) i
 where l.number > 0
 order by i.tag_code
"""
_CHANNEL_STOCK: Final = """
select s.item_id
  from (select item_id from listing where shop_id = $1 and channel_id = $2
         union select item_id from stock_piece where shop_id = $1 and channel_id = $2) s
  left join lateral (
    select tag_code from item where shop_id = $1 and id = s.item_id offset 0) i on true
 order by i.tag_code, s.item_id
"""
_LISTED_AS: Final = """
select u.reference, l.item_id from unnest($3::text[]) as u (reference)
 cross join lateral (
   select item_id from listing
    where shop_id = $1 and channel_id = $2 and reference = u.reference offset 0) l
"""
_ENTERED_BY_HAND: Final = """
select s.transaction_id, s.id as sale_id,
       array_agg(sl.item_id order by sl.item_id) filter (where sl.item_id is not null) as item_ids
  from unnest($2::uuid[]) as u (id)
 cross join lateral (
   select * from sale where shop_id = $1 and transaction_id = u.id and state = 'done' offset 0) s
 cross join lateral (
   select * from sale_line where shop_id = $1 and sale_id = s.id offset 0) sl
 cross join lateral generate_series(1, case when sl.item_id is null then 1 else sl.quantity end)
 where s.origin <> 'match'
 group by s.transaction_id, s.id
"""


async def rail_pieces(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Read the rail with price, quantity, what is left in stock, count and references."""
    return await con.fetch(_RAIL, shop_id, event_id)


async def channel_pieces(
    con: Connection, shop_id: UUID, channel_id: UUID, item_ids: Collection[UUID]
) -> list[Row]:
    """Read those of these items that were ever listed on a channel, in order of tag codes."""
    return await con.fetch(_CHANNEL_PIECES, shop_id, channel_id, list(item_ids))


async def channel_stock(con: Connection, shop_id: UUID, channel_id: UUID) -> list[UUID]:
    """Give the items that were ever listed on a channel, and those its stock was found to have.

    They come in order of tag codes.
    """
    rows = await con.fetch(_CHANNEL_STOCK, shop_id, channel_id)
    return [row["item_id"] for row in rows]


async def items_listed_as(
    con: Connection, shop_id: UUID, channel_id: UUID, references: Collection[str]
) -> dict[str, UUID]:
    """Find the items that listings of a channel name by these references."""
    rows = await con.fetch(_LISTED_AS, shop_id, channel_id, list(references))
    return {row["reference"]: row["item_id"] for row in rows}


async def sold_elsewhere(
    con: Connection, shop_id: UUID, item_ids: list[UUID], event_id: UUID
) -> list[Row]:
    """Read sales of these items outside an event, by day."""
    return await con.fetch(_SOLD_ELSEWHERE, shop_id, item_ids, event_id)


async def sold_off_channel(
    con: Connection, shop_id: UUID, channel_id: UUID, item_ids: list[UUID]
) -> list[Row]:
    """Read sales of these items that other channels are known to have made, by day."""
    return await con.fetch(_SOLD_OFF_CHANNEL, shop_id, channel_id, item_ids)


async def lines_of_event(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Read the payments, refunds and sales of an event."""
    return await con.fetch(_OF_EVENT, shop_id, event_id)


async def lines_of_channel(
    con: Connection, shop_id: UUID, channel_id: UUID, ids: Collection[UUID]
) -> list[Row]:
    """Read those of these transactions that are a channel's and belong to no event."""
    return await con.fetch(_OF_CHANNEL, shop_id, channel_id, list(ids))


async def lines_to_look_at(
    con: Connection, shop_id: UUID, channel_id: UUID, ids: Collection[UUID]
) -> list[Row]:
    """Read of the same lines what tells what they may be of, in the order of their ids."""
    return await con.fetch(_LOOKED_AT, shop_id, channel_id, list(ids))


async def line_ids_of_channel(
    con: Connection,
    shop_id: UUID,
    channel_id: UUID,
    from_on: dt.date | None,
    to_on: dt.date | None,
) -> list[UUID]:
    """Name a channel's payments, refunds and sales of a period that belong to no event."""
    rows = await con.fetch(_IDS_OF_CHANNEL, shop_id, channel_id, from_on, to_on)
    return [row["id"] for row in rows]


async def line_ids_of_imports(
    con: Connection, shop_id: UUID, channel_id: UUID, import_ids: Collection[UUID]
) -> list[UUID]:
    """The same for rows that these imports brought or changed."""
    rows = await con.fetch(_IDS_OF_IMPORTS, shop_id, channel_id, list(import_ids))
    return [row["id"] for row in rows]


async def payments_named(
    con: Connection, shop_id: UUID, channel_id: UUID, row_keys: Collection[str], currency: str
) -> list[Row]:
    """Find a channel's payments and sales by their keys: id, external_id, amount_minor."""
    return await con.fetch(_PAYMENTS_NAMED, shop_id, channel_id, list(row_keys), currency)


async def ring_ups(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Read the sales entered at the stall or by hand."""
    return await con.fetch(_RING_UPS, shop_id, event_id)


async def entered_by_hand(con: Connection, shop_id: UUID, transaction_ids: list[UUID]) -> list[Row]:
    """Read the entered sales that belong to these transactions."""
    return await con.fetch(_ENTERED_BY_HAND, shop_id, transaction_ids)


async def days_of(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Read the days and their cash boxes."""
    return await con.fetch(_DAYS, shop_id, event_id)


async def stubs_of(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Read the kept stubs."""
    return await con.fetch(_STUBS, shop_id, event_id)


async def learned_before(con: Connection, shop_id: UUID, event_id: UUID) -> list[dict[str, Any]]:
    """Read what the shop's earlier, closed events taught, the oldest first."""
    return [row["learned"] for row in await con.fetch(_LEARNED, shop_id, event_id)]
