"""Live listings of pieces that are gone, or probably gone."""

from __future__ import annotations

import datetime as dt
from typing import Final
from uuid import UUID

import msgspec

from stallkeep.store.connection import Connection

# Sold for certain, claimed by proposals only, or gone without a payment by an event's last run: a
# count that missed it, its stub, somebody who looked. Proposals of one event or channel exclude
# each other, those of several do not. Of n left, n - 1 may go: all are gone with at least the
# probability by which the expected number goes beyond that. A channel ends the listing it sold
# from itself.
_TAKE_DOWNS: Final = """
with claim as (
  select mi.item_id, coalesce(t.event_id, t.channel_id) as place,
         sum(m.probability * mi.quantity) as expected
    from match m
    join match_item mi on mi.shop_id = m.shop_id and mi.match_id = m.id
    join transaction t on t.shop_id = m.shop_id and t.id = m.transaction_id
   where m.shop_id = $1 and m.state = 'proposed' and t.kind <> 'refund'
   group by mi.item_id, coalesce(t.event_id, t.channel_id)
), claimed as (
  select item_id, sum(expected) as expected,
         1 - exp(sum(ln(1 - least(expected, 0.999)))) as at_least_one
    from claim group by item_id
), run as (
  select distinct on (event_id) event_id, report from reconciliation
   where shop_id = $1 and event_id is not null
   order by event_id, created_at desc, id desc
), gone as (
  select g.item_id, g.probability
    from run cross join lateral jsonb_to_recordset(run.report -> 'gone')
         as g (item_id uuid, probability float8)
    join event e on e.shop_id = $1 and e.id = run.event_id
   where jsonb_typeof(run.report -> 'gone') = 'array'
     and not exists (
       select from rail r join event later on later.shop_id = r.shop_id and later.id = r.event_id
        where r.shop_id = $1 and r.item_id = g.item_id
          and (later.starts_on, later.id) > (e.starts_on, e.id))
), probable as (
  select i.id as item_id,
         case when i.quantity - i.sold = 1
              then least(greatest(c.at_least_one, g.probability, 0.0), 0.999)
              else least(greatest(c.expected - (i.quantity - i.sold - 1), 0.0), 0.999)
         end as probability
    from (select item_id from claimed union select item_id from gone) u
    join item i on i.shop_id = $1 and i.id = u.item_id
    left join claimed c on c.item_id = u.item_id
    left join gone g on g.item_id = u.item_id
)
select l.id, l.channel_id, c.name as channel_name, l.reference, l.title, l.price_minor,
       i.id as item_id, i.tag_code,
       case when i.sold >= i.quantity then 1.0 else p.probability end as probability,
       (select max(s.sold_on) from sale_line sl
          join sale s on s.shop_id = sl.shop_id and s.id = sl.sale_id and s.state = 'done'
         where sl.shop_id = i.shop_id and sl.item_id = i.id and sl.state = 'sold') as sold_on
  from listing l
  join item i on i.shop_id = l.shop_id and i.id = l.item_id
  join channel c on c.shop_id = l.shop_id and c.id = l.channel_id
  left join probable p on p.item_id = i.id
 where l.shop_id = $1 and l.state = 'live'
   and not exists (
     select from sale_line sl
       join sale s on s.shop_id = sl.shop_id and s.id = sl.sale_id and s.state = 'done'
      where sl.shop_id = l.shop_id and sl.item_id = l.item_id and sl.state = 'sold'
        and s.channel_id = l.channel_id)
   and (i.sold >= i.quantity or p.probability >= $2)
   and l.id > $3
 order by l.id
 limit $4
"""


class TakeDown(msgspec.Struct, frozen=True, gc=False):
    """A live listing that somebody must end. Probability 1 means the piece is sold."""

    id: UUID
    channel_id: UUID
    channel_name: str
    reference: str
    title: str
    price_minor: int | None
    item_id: UUID
    tag_code: str
    probability: float
    sold_on: dt.date | None


async def list_take_downs(
    con: Connection, shop_id: UUID, *, at_least: float, limit: int, after: UUID
) -> list[TakeDown]:
    """List take-downs by listing id, one more than *limit* if there are.

    Args:
        con: In the shop's scope.
        shop_id: The shop.
        at_least: Smallest probability that the piece is gone.
        limit: Most rows wanted.
        after: Listing id to go on behind.
    """
    rows = await con.fetch(_TAKE_DOWNS, shop_id, at_least, after, limit + 1)
    return [TakeDown(*row) for row in rows]
