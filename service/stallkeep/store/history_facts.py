"""A shop's history: the events that are over, and what was offered on other channels."""

from __future__ import annotations

import datetime as dt
from typing import Final
from uuid import UUID

import msgspec

from stallkeep.store.connection import Connection, Row

MOST_OFFERS: Final = 20_000


class PastEventRow(msgspec.Struct, frozen=True, gc=False):
    """An event that is over."""

    id: UUID
    name: str
    kind: str | None
    starts_on: dt.date
    ends_on: dt.date


_OVER: Final = """
select e.id, e.name, e.kind, e.starts_on, e.ends_on
  from event e
 where e.shop_id = $1 and e.id <> $2
   and (e.state = 'closed' or e.ends_on < $3 and exists (
         select from transaction t where t.shop_id = e.shop_id and t.event_id = e.id))
 order by e.starts_on desc, e.id desc
 limit $4
"""
# What a sale's pieces brought in all, and those of them that the customer kept.
_WHOLE: Final = """cross join lateral (
  select coalesce(sum(x.price_minor), 0)::bigint as whole_minor,
         coalesce(sum(x.price_minor) filter (where x.state = 'sold'), 0)::bigint as kept_minor
    from sale_line x where x.shop_id = s.shop_id and x.sale_id = s.id offset 0) whole"""
_LISTED: Final = f"""
select distinct on (l.channel_id, l.item_id)
       l.channel_id, c.name as channel, i.category, i.cost_minor as item_cost_minor, l.listed_on,
       l.ended_on, sold.channel_id as sold_channel_id, sold.sold_on, sold.quantity,
       sold.price_minor, sold.cost_minor, sold.whole_minor, sold.kept_minor,
       sold.back_minor, sold.fee_minor, sold.postage_minor
  from listing l
  join channel c on c.shop_id = l.shop_id and c.id = l.channel_id and c.kind <> 'stall'
  join item i on i.shop_id = l.shop_id and i.id = l.item_id
  left join lateral (
       select s.channel_id, s.sold_on, sl.quantity, sl.price_minor, sl.cost_minor,
              whole.whole_minor, whole.kept_minor,
              greatest(coalesce(t.refunded_minor, 0) - whole.whole_minor + whole.kept_minor, 0)
                as back_minor, t.fee_minor,
              coalesce(t.postage_minor, 0) - coalesce(t.postage_cost_minor, 0) as postage_minor
         from sale_line sl
         join sale s on s.shop_id = sl.shop_id and s.id = sl.sale_id and s.state = 'done'
         left join transaction t on t.shop_id = s.shop_id and t.id = s.transaction_id
        {_WHOLE}
        where sl.shop_id = l.shop_id and sl.item_id = l.item_id and sl.state = 'sold'
        order by s.channel_id = l.channel_id desc, s.sold_on limit 1) sold on true
 where l.shop_id = $1 and (l.listed_on is null or l.listed_on >= $2)
 order by l.channel_id, l.item_id, l.listed_on
 limit $3
"""  # noqa: S608 - made of constants
_UNLISTED: Final = f"""
select s.channel_id, c.name as channel, i.category, i.cost_minor as item_cost_minor,
       null::date as listed_on, null::date as ended_on, s.channel_id as sold_channel_id, s.sold_on,
       sl.quantity, sl.price_minor, sl.cost_minor,
       whole.whole_minor, whole.kept_minor,
       greatest(coalesce(t.refunded_minor, 0) - whole.whole_minor + whole.kept_minor, 0)
         as back_minor, t.fee_minor,
       coalesce(t.postage_minor, 0) - coalesce(t.postage_cost_minor, 0) as postage_minor
  from sale s
  join channel c on c.shop_id = s.shop_id and c.id = s.channel_id and c.kind <> 'stall'
  join sale_line sl on sl.shop_id = s.shop_id and sl.sale_id = s.id and sl.state = 'sold'
  join item i on i.shop_id = sl.shop_id and i.id = sl.item_id
  left join transaction t on t.shop_id = s.shop_id and t.id = s.transaction_id
 {_WHOLE}
 where s.shop_id = $1 and s.state = 'done' and s.sold_on >= $2
   and not exists (select from listing l where l.shop_id = sl.shop_id and l.item_id = sl.item_id
                      and l.channel_id = s.channel_id)
 order by s.sold_on desc, s.id, sl.line_no
 limit $3
"""  # noqa: S608 - made of constants
_SCHEDULES: Final = """
select channel_id, valid_from, terms from fee_schedule
 where shop_id = $1 order by channel_id, valid_from
"""


async def events_over(
    con: Connection, shop_id: UUID, but: UUID, today: dt.date, most: int
) -> list[PastEventRow]:
    """Read the latest events that are over, one of them left out, the latest first.

    Over is what was closed, and what ended before today and had money moved.
    """
    rows = await con.fetch(_OVER, shop_id, but, today, most)
    return [PastEventRow(*row) for row in rows]


async def offered(con: Connection, shop_id: UUID, since: dt.date) -> list[Row]:
    """Read what was offered or sold on channels other than a stall, at most `MOST_OFFERS` twice.

    A piece offered twice on a channel is one row, from its first day on. `postage_minor` is what
    was received less what was paid, `back_minor` what was given back of what the customer kept.
    """
    listed = await con.fetch(_LISTED, shop_id, since, MOST_OFFERS)
    return [*listed, *await con.fetch(_UNLISTED, shop_id, since, MOST_OFFERS)]


async def schedules(con: Connection, shop_id: UUID) -> list[Row]:
    """Read every fee schedule of the shop: channel_id, valid_from, terms, earliest first."""
    return await con.fetch(_SCHEDULES, shop_id)
