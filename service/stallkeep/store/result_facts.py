"""What the result of an event is read from."""

from __future__ import annotations

from typing import Final
from uuid import UUID

from stallkeep.store.connection import Connection, Row

_EVENT: Final = """
select e.id, e.name, e.channel_id, e.starts_on, e.ends_on, e.state, e.pitch_fee_minor, e.own_minutes
  from event e where e.shop_id = $1 and e.id = $2
"""
_DAYS: Final = """
select day, opens_at, closes_at, pitch_fee_minor, float_minor, counted_cash_minor, taken_out_minor,
       every_cash_sale_noted
  from event_day where shop_id = $1 and event_id = $2 order by day
"""
_MONEY: Final = """
select t.id, t.kind, t.occurred_on, coalesce(t.method, 'other') as method, t.amount_minor,
       t.currency, t.match_state, coalesce(t.tip_minor, 0) as tip_minor, t.tax_minor, t.fee_minor,
       t.refunded_minor, t.detail,
       coalesce((select r.is_income from ruling r
                  where r.shop_id = t.shop_id and r.transaction_id = t.id
                    and r.kind = 'set_aside' and r.withdrawn_at is null
                  order by r.said_at desc limit 1), true) as is_income
  from transaction t
 where t.shop_id = $1 and t.event_id = $2 and t.kind <> 'payout'
 order by t.ordered_at, t.id
"""
_PIECES: Final = """
select s.transaction_id, i.tag_code, sl.price_minor, sl.cost_minor, sl.quantity, sl.state,
       i.category, i.margin_scheme
  from sale s
  join sale_line sl on sl.shop_id = s.shop_id and sl.sale_id = s.id
  join item i on i.shop_id = sl.shop_id and i.id = sl.item_id
  join transaction t on t.shop_id = s.shop_id and t.id = s.transaction_id
 where s.shop_id = $1 and t.event_id = $2 and s.state = 'done'
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
 where m.shop_id = $1 and t.event_id = $2 and m.state = 'proposed'
 group by m.shop_id, m.id order by m.transaction_id, m.rank, m.id
"""
_RAIL: Final = """
select i.tag_code, r.quantity, coalesce(r.price_minor, i.price_minor) as price_minor, i.cost_minor,
       i.category,
       case when r.counted_home is not null then least(r.quantity, r.counted_home + coalesce((
         select sum(sl.quantity) from sale_line sl
           join sale s on s.shop_id = sl.shop_id and s.id = sl.sale_id and s.state = 'done'
          where sl.shop_id = r.shop_id and sl.item_id = r.item_id and sl.state = 'sold'
            and s.event_id is distinct from r.event_id and s.sold_on >= e.starts_on), 0))
       end::integer as counted_home
  from rail r join event e on e.shop_id = r.shop_id and e.id = r.event_id
  join item i on i.shop_id = r.shop_id and i.id = r.item_id
 where r.shop_id = $1 and r.event_id = $2 order by i.tag_code
"""
_COSTS: Final = """
select id, kind, amount_minor, coalesce(tax_minor, 0) as tax_minor, spent_on from cost
 where shop_id = $1 and event_id = $2 order by spent_on, id
"""
_SCHEDULE: Final = """
select terms from fee_schedule
 where shop_id = $1 and channel_id = $2 and valid_from <= $3
 order by valid_from desc limit 1
"""
_WAITING: Final = """
select count(*)::integer as sales, coalesce(sum(total_minor), 0)::bigint as total_minor from sale
 where shop_id = $1 and event_id = $2 and state = 'done' and transaction_id is null
"""


async def event(con: Connection, shop_id: UUID, event_id: UUID) -> Row | None:
    """Read the event itself."""
    return await con.fetchrow(_EVENT, shop_id, event_id)


async def days(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Read its days."""
    return await con.fetch(_DAYS, shop_id, event_id)


async def money(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Read its transactions, payouts apart."""
    return await con.fetch(_MONEY, shop_id, event_id)


async def sold_pieces(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Read the pieces that its transactions paid for."""
    return await con.fetch(_PIECES, shop_id, event_id)


async def possibilities(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Read what its open transactions may have been for."""
    return await con.fetch(_POSSIBLE, shop_id, event_id)


async def rail(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Read what was taken to it."""
    return await con.fetch(_RAIL, shop_id, event_id)


async def costs(con: Connection, shop_id: UUID, event_id: UUID) -> list[Row]:
    """Read its costs."""
    return await con.fetch(_COSTS, shop_id, event_id)


async def fee_terms(
    con: Connection, shop_id: UUID, channel_id: UUID, day: object
) -> dict[str, object] | None:
    """Read the fee schedule of a channel that holds on a day."""
    row = await con.fetchrow(_SCHEDULE, shop_id, channel_id, day)
    return None if row is None else row["terms"]


async def waiting_ring_ups(con: Connection, shop_id: UUID, event_id: UUID) -> tuple[int, int]:
    """Count and sum the entered sales whose payment has not come yet."""
    rows = await con.fetch(_WAITING, shop_id, event_id)
    return rows[0]["sales"], rows[0]["total_minor"]
