"""What could be taken to an event, and what was taken to earlier ones."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Final
from uuid import UUID

from stallkeep.store.connection import Connection, Row

_STOCK: Final = """
select i.id, i.tag_code, i.title, i.category, i.price_minor, i.cost_minor, i.floor_minor,
       i.acquired_on, i.created_at, i.quantity - i.sold as quantity, i.reserved_until
  from item i
 where i.shop_id = $1 and i.quantity > i.sold
   and not exists (select from rail r join event e on e.shop_id = r.shop_id and e.id = r.event_id
                    where r.shop_id = i.shop_id and r.item_id = i.id and e.id = any($2::uuid[])
                      and r.counted_home = 0)
 order by i.tag_code
 limit $3
"""
_TAKEN: Final = """
select r.event_id, i.tag_code, i.acquired_on, e.starts_on
  from rail r
  join event e on e.shop_id = r.shop_id and e.id = r.event_id
  join item i on i.shop_id = r.shop_id and i.id = r.item_id
 where r.shop_id = $1 and r.event_id = any($2::uuid[])
"""


async def stock(
    con: Connection, shop_id: UUID, past_event_ids: Sequence[UUID], most: int
) -> list[Row]:
    """Read pieces that are not sold, by tag code, at most *most*.

    A piece that a stock count of one of these events missed is left out: it is gone, whoever
    paid for it.
    """
    return await con.fetch(_STOCK, shop_id, past_event_ids, most)


async def held_when_taken(
    con: Connection, shop_id: UUID, event_ids: Sequence[UUID]
) -> dict[tuple[UUID, str], int | None]:
    """Tell for each event and tag code how many days the piece was held; None when not known."""
    rows = await con.fetch(_TAKEN, shop_id, event_ids)
    return {
        (row["event_id"], row["tag_code"]): _days(row["acquired_on"], row["starts_on"])
        for row in rows
    }


def _days(first: dt.date | None, last: dt.date) -> int | None:
    return None if first is None else max(0, (last - first).days)
