"""What still waits beside the result of an event, counted and summed in one statement."""

from __future__ import annotations

from typing import Final
from uuid import UUID

from stallkeep.store.connection import Connection, Row

# A payment's place in time is never two days from its day, so the index on it finds those of the
# event's days without reading all of the shop's.
_WAITING: Final = """
select 'ring-ups' as kind, null as currency, count(*)::integer as number,
       coalesce(sum(total_minor), 0)::bigint as total_minor
  from sale
 where shop_id = $1 and event_id = $2 and state = 'done' and transaction_id is null
union all
select 'of-no-event', null, count(*)::integer, coalesce(sum(amount_minor), 0)::bigint
  from transaction
 where shop_id = $1 and event_id is null and currency = $3 and kind in ('payment', 'sale')
   and channel_id = (select channel_id from event where shop_id = $1 and id = $2)
   and occurred_on = any(array(select day from event_day where shop_id = $1 and event_id = $2))
   and ordered_at >= (select (min(day) - 2)::timestamp at time zone 'UTC' from event_day
                       where shop_id = $1 and event_id = $2)
   and ordered_at <= (select (max(day) + 2)::timestamp at time zone 'UTC' from event_day
                       where shop_id = $1 and event_id = $2)
union all
select 'foreign', currency, count(*)::integer, sum(amount_minor)::bigint
  from transaction
 where shop_id = $1 and event_id = $2 and currency <> $3 and kind in ('payment', 'sale')
 group by currency
union all
select 'contradictions', null, count(*)::integer, 0
  from conflict where shop_id = $1 and event_id = $2 and state = 'open'
 order by kind, currency
"""


async def waiting(con: Connection, shop_id: UUID, event_id: UUID, currency: str) -> list[Row]:
    """Count and sum what waits, by `kind`; kinds without any have a number of 0.

    ring-ups: entered sales whose payment has not come yet. of-no-event: payments of the event's
    channel and days that belong to no event. foreign: payments in other currencies than the
    shop's, one row for each. contradictions: open conflicts, without an amount.
    """
    return await con.fetch(_WAITING, shop_id, event_id, currency)
