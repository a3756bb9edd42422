"""What the results of events are read from: the same few statements for one event or for many.

Every row of the lists carries its ``event_id``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from uuid import UUID

from stallkeep.store.connection import Connection, Row
from stallkeep.store.told_tax import told_tax

_EVENTS: Final = """
select e.id, e.name, e.kind, e.channel_id, e.starts_on, e.ends_on, e.state, e.pitch_fee_minor,
       e.own_minutes,
       (select f.terms from fee_schedule f
         where f.shop_id = e.shop_id and f.channel_id = e.channel_id
           and f.valid_from <= e.starts_on order by f.valid_from desc limit 1) as fee_terms
  from event e where e.shop_id = $1 and e.id = any($2::uuid[])
"""
_DAYS: Final = """
select event_id, day, opens_at, closes_at, pitch_fee_minor, float_minor, counted_cash_minor,
       taken_out_minor, every_cash_sale_noted
  from event_day where shop_id = $1 and event_id = any($2::uuid[]) order by day
"""
_MONEY: Final = f"""
select t.event_id, t.id, t.kind, t.occurred_on, coalesce(t.method, 'other') as method,
       t.amount_minor, t.currency, t.match_state, coalesce(t.tip_minor, 0) as tip_minor,
       {told_tax("$4")} as tax_minor, t.fee_minor,
       t.refunded_minor, t.detail,
       coalesce(a.is_income, true) as is_income,
       case when t.kind = 'refund' then (
         select m.related_transaction_id from match m
          where m.shop_id = $1 and m.transaction_id = t.id and m.state = 'matched')
       end as gives_back
  from transaction t
  left join (select distinct on (transaction_id) transaction_id, is_income from ruling
              where shop_id = $1 and kind = 'set_aside' and withdrawn_at is null
              order by transaction_id, said_at desc) a on a.transaction_id = t.id
 where t.shop_id = $1 and t.event_id = any($2::uuid[]) and t.kind <> 'payout'
   and ($3 or t.kind not in ('payment', 'sale') or t.amount_minor < 0 or t.refunded_minor <> 0
        or t.match_state not in ('matched', 'set_aside'))
 order by t.ordered_at, t.id
"""  # noqa: S608 - made of constants
_PIECES: Final = """
select s.transaction_id, i.tag_code, sl.price_minor, sl.cost_minor, sl.quantity, sl.state,
       i.category, i.margin_scheme,
       i.id in (select item_id from batch where shop_id = $1) as by_average
  from sale s
  join sale_line sl on sl.shop_id = s.shop_id and sl.sale_id = s.id
  join item i on i.shop_id = sl.shop_id and i.id = sl.item_id
  join transaction t on t.shop_id = s.shop_id and t.id = s.transaction_id
 where s.shop_id = $1 and t.event_id = any($2::uuid[]) and s.state = 'done'
 order by s.transaction_id, sl.line_no
"""
_POSSIBLE: Final = """
select m.transaction_id, m.probability, coalesce(sum(mi.quantity), 0)::integer as pieces,
       case when bool_and(i.cost_minor is not null) then sum(i.cost_minor * mi.quantity)
            when count(mi.item_id) = 0 then 0 end::bigint as cost_minor
  from match m
  join transaction t on t.shop_id = m.shop_id and t.id = m.transaction_id
  left join match_item mi on mi.shop_id = m.shop_id and mi.match_id = m.id
  left join item i on i.shop_id = mi.shop_id and i.id = mi.item_id
 where m.shop_id = $1 and t.event_id = any($2::uuid[]) and m.state = 'proposed'
 group by m.shop_id, m.id order by m.transaction_id, m.rank, m.id
"""
# Items and days are looked up piece by piece: joined as tables, a database that has not counted its
# rows yet (a new one) reads the rail again for every item of the stock, ten times as slow.
_RAIL: Final = """
select r.event_id, i.tag_code, r.quantity, coalesce(r.price_minor, i.price_minor) as price_minor,
       i.cost_minor, i.category,
       r.counted_home, coalesce(elsewhere.pieces, 0)::integer as sold_elsewhere
  from rail r
 cross join lateral (select tag_code, price_minor, cost_minor, category from item
                      where shop_id = r.shop_id and id = r.item_id offset 0) i
  left join (
    select r.event_id, r.item_id, sum(sl.quantity) as pieces
      from rail r
      join event e on e.shop_id = r.shop_id and e.id = r.event_id
      join sale_line sl on sl.shop_id = r.shop_id and sl.item_id = r.item_id and sl.state = 'sold'
      join sale s on s.shop_id = sl.shop_id and s.id = sl.sale_id and s.state = 'done'
     where r.shop_id = $1 and r.event_id = any($2::uuid[]) and r.counted_home < r.quantity
       and s.event_id is distinct from r.event_id and s.sold_on >= e.starts_on
     group by r.event_id, r.item_id) elsewhere
    on elsewhere.event_id = r.event_id and elsewhere.item_id = r.item_id
 where r.shop_id = $1 and r.event_id = any($2::uuid[]) order by i.tag_code
"""
_COSTS: Final = """
select event_id, id, kind, amount_minor, coalesce(tax_minor, 0) as tax_minor, spent_on, trip,
       null::bigint as whole_minor, null as split_by, 0 as share, 0 as shares, 0 as events
  from cost where shop_id = $1 and event_id = any($2::uuid[])
 union all
select p.event_id, c.id, c.kind, p.amount_minor, coalesce(p.tax_minor, 0), c.spent_on, c.trip,
       c.amount_minor, c.split_by, p.share, o.shares, o.events
  from cost_part p
  join cost c on c.shop_id = p.shop_id and c.id = p.cost_id
 cross join lateral (select sum(share)::integer as shares, count(*)::integer as events
                       from cost_part where shop_id = p.shop_id and cost_id = p.cost_id) o
 where p.shop_id = $1 and p.event_id = any($2::uuid[])
 order by spent_on, id
"""


async def events(con: Connection, shop_id: UUID, event_ids: Sequence[UUID]) -> list[Row]:
    """Read the events themselves, each with the fee schedule that holds when it starts."""
    return await con.fetch(_EVENTS, shop_id, event_ids)


async def days(con: Connection, shop_id: UUID, event_ids: Sequence[UUID]) -> list[Row]:
    """Read their days."""
    return await con.fetch(_DAYS, shop_id, event_ids)


async def money(
    con: Connection,
    shop_id: UUID,
    event_ids: Sequence[UUID],
    *,
    settled: bool = True,
    asks_sales: bool = True,
) -> list[Row]:
    """Read their transactions, payouts apart.

    Without *settled*, payments that are settled and nothing was given back of are left out. With
    *asks_sales*, a sale rung up tells the tax that its payment's export does not.
    """
    return await con.fetch(_MONEY, shop_id, event_ids, settled, asks_sales)


async def sold_pieces(con: Connection, shop_id: UUID, event_ids: Sequence[UUID]) -> list[Row]:
    """Read the pieces that their transactions paid for, by transaction."""
    return await con.fetch(_PIECES, shop_id, event_ids)


async def possibilities(con: Connection, shop_id: UUID, event_ids: Sequence[UUID]) -> list[Row]:
    """Read what their open transactions may have been for, by transaction."""
    return await con.fetch(_POSSIBLE, shop_id, event_ids)


async def rail(con: Connection, shop_id: UUID, event_ids: Sequence[UUID]) -> list[Row]:
    """Read what was taken to them."""
    return await con.fetch(_RAIL, shop_id, event_ids)


async def costs(con: Connection, shop_id: UUID, event_ids: Sequence[UUID]) -> list[Row]:
    """Read their costs, and their parts of costs that several events share."""
    return await con.fetch(_COSTS, shop_id, event_ids)
