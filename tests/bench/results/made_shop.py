"""A shop with as many sales as wanted, made by the database itself."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

import msgspec

from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id
from stallkeep.work.open_shop import open_shop

FIRST = dt.date(2026, 1, 3)
FEES = {"parts": [{"name": "card fee", "kind": "payment", "rate_ppm": 25_000}]}

_EVENTS = """
insert into event (shop_id, id, channel_id, name, kind, starts_on, ends_on, state)
select $1, md5('event' || n)::uuid, $2, 'Fair ' || n, 'fair', $3::date + 6 * n,
       $3::date + 6 * n + 1, 'closed'
  from generate_series(0, $4::int - 1) n
"""
_DAYS = """
insert into event_day (shop_id, event_id, day, pitch_fee_minor, opens_at, closes_at, float_minor)
select e.shop_id, e.id, e.starts_on + d, 9000, '10:00', '18:00', 5000
  from event e, generate_series(0, 1) d where e.shop_id = $1
"""
_COSTS = """
insert into cost (shop_id, id, event_id, kind, amount_minor, spent_on)
select e.shop_id, md5(e.id::text || k)::uuid, e.id, k, 4200, e.starts_on
  from event e, unnest('{travel,food,parking}'::text[]) k where e.shop_id = $1
"""
_ITEMS = """
insert into item (shop_id, id, tag_code, title, category, price_minor, cost_minor)
select $1, md5('item' || n)::uuid, 'T' || n, 'Piece ' || n, 'Category ' || n % 7,
       1000 + n % 60 * 100, 300 + n % 20 * 50
  from generate_series(0, $2::int - 1) n
"""
_RAILS = """
insert into rail (shop_id, event_id, item_id, counted_home)
select $1, md5('event' || n / $2::int)::uuid, md5('item' || n)::uuid, 0
  from generate_series(0, $3::int - 1) n
"""
_MONEY = """
insert into transaction (shop_id, id, channel_id, row_key, content_key, kind, amount_minor,
                         currency, occurred_on, ordered_at, event_id, match_state, method,
                         fee_minor)
select i.shop_id, md5('paid' || n)::uuid,
       case when n < $2 then $3::uuid else $4::uuid end, n::text, md5('paid' || n)::uuid, 'payment',
       i.price_minor, 'EUR', day, day + time '12:00', e.id, 'matched',
       case when n >= $2 then 'online' when n % 3 = 0 then 'cash' else 'card' end,
       case when n % 2 = 0 then i.price_minor / 40 end
  from generate_series(0, $5::int - 1) n
  join item i on i.shop_id = $1 and i.tag_code = 'T' || n
  left join event e on n < $2 and e.shop_id = $1 and e.id = md5('event' || n / $6::int)::uuid
  cross join lateral (select coalesce(e.starts_on + n % 2, $7::date + n % 360) as day) d
"""
_SALES = """
insert into sale (shop_id, id, channel_id, event_id, origin, total_minor, sold_on, transaction_id)
select shop_id, id, channel_id, event_id, 'match', amount_minor, occurred_on, id
  from transaction where shop_id = $1
"""
_LINES = """
insert into sale_line (shop_id, sale_id, line_no, item_id, price_minor, cost_minor)
select t.shop_id, t.id, 1, i.id, i.price_minor, i.cost_minor
  from transaction t join item i on i.shop_id = t.shop_id and i.tag_code = 'T' || t.row_key
 where t.shop_id = $1
"""

_COMING = """
insert into event (shop_id, id, channel_id, name, kind, starts_on, ends_on, state)
select $1, md5('coming')::uuid, channel_id, 'Next fair', 'fair', $2::date, $2::date + 1, 'planned'
  from event where shop_id = $1 limit 1
"""
_COMING_DAYS = """
insert into event_day (shop_id, event_id, day, pitch_fee_minor, opens_at, closes_at)
select e.shop_id, e.id, e.starts_on + d, 9000, '10:00', '18:00'
  from event e, generate_series(0, 1) d where e.shop_id = $1 and e.id = md5('coming')::uuid
"""
_COMING_RAIL = """
with new as (
  insert into item (shop_id, id, tag_code, title, category, price_minor, cost_minor)
  select $1, md5('next' || n)::uuid, 'N' || n, 'Piece ' || n, 'Category ' || n % 7,
         1000 + n % 60 * 100, 300 + n % 20 * 50
    from generate_series(1, $2::int) n returning shop_id, id)
insert into rail (shop_id, event_id, item_id) select shop_id, md5('coming')::uuid, id from new
"""


class MadeShop(msgspec.Struct, frozen=True):
    """A shop that was made, and its first event."""

    shop_id: UUID
    token: str
    event_id: UUID


async def make_shop(pool: Pool, *, events: int, at_each: int, online: int) -> MadeShop:
    """Make a shop with events of *at_each* sales and further sales online, every one settled."""
    shop, token = await open_shop(pool, "Bench", "EUR", "Europe/Berlin")
    stall, channel = new_id(), new_id()
    stalls = events * at_each
    async with scope(pool, shop.shop_id) as con:
        await _channels(con, shop.shop_id, stall, channel)
        await con.execute(_EVENTS, shop.shop_id, stall, FIRST, events)
        await con.execute(_DAYS, shop.shop_id)
        await con.execute(_COSTS, shop.shop_id)
        await con.execute(_ITEMS, shop.shop_id, stalls + online)
        await con.execute(_RAILS, shop.shop_id, at_each, stalls)
        numbers = (stalls + online, at_each, FIRST)
        await con.execute(_MONEY, shop.shop_id, stalls, stall, channel, *numbers)
        await con.execute(_SALES, shop.shop_id)
        await con.execute(_LINES, shop.shop_id)
        event_id = await con.fetchval("select md5('event0')::uuid")
    return MadeShop(shop.shop_id, token, event_id)


async def _channels(con: Connection, shop_id: UUID, stall: UUID, online: UUID) -> None:
    for channel, name, kind in ((stall, "Stall", "stall"), (online, "Online", "online")):
        await con.execute(
            "insert into channel (shop_id, id, name, kind) values ($1, $2, $3, $4)",
            shop_id,
            channel,
            name,
            kind,
        )
        await con.execute(
            "insert into fee_schedule (shop_id, channel_id, valid_from, terms) "
            "values ($1, $2, '2025-01-01', $3)",
            shop_id,
            channel,
            FEES,
        )


async def make_coming_event(pool: Pool, shop_id: UUID, starts_on: dt.date, *, rail: int) -> UUID:
    """Make an event of two days that is still to come, with so many new pieces on its rail."""
    async with scope(pool, shop_id) as con:
        await con.execute(_COMING, shop_id, starts_on)
        await con.execute(_COMING_DAYS, shop_id)
        await con.execute(_COMING_RAIL, shop_id, rail)
        event_id: UUID = await con.fetchval("select md5('coming')::uuid")
    return event_id
