"""What a seller should know of rows whose days are none of the event they were sent with."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from typing import Final
from uuid import UUID

from stallkeep.store.connection import Connection
from stallkeep_importers.contract import Notice

SHOWN: Final = 5
"""Days that a notice names, at most."""

_ELSEWHERE: Final = """
select t.occurred_on, e.name as owner, own.name
  from (select distinct occurred_on, event_id from transaction
         where shop_id = $1 and import_id = $2 and event_id is distinct from $3
           and kind in ('payment', 'sale', 'refund')) t
  join event own on own.shop_id = $1 and own.id = $3
  left join event e on e.shop_id = $1 and e.id = t.event_id
 order by t.occurred_on, e.name
"""


async def day_notices(
    con: Connection, shop_id: UUID, import_id: UUID, event_id: UUID
) -> list[Notice]:
    """Say which rows of an import went to another event than its own, or to none, by their day."""
    elsewhere: dict[str | None, list[dt.date]] = defaultdict(list)
    rows = await con.fetch(_ELSEWHERE, shop_id, import_id, event_id)
    for row in rows:
        elsewhere[row["owner"]].append(row["occurred_on"])
    return [
        Notice(
            code="days-of-another-event",
            text=f"Not on a day of {rows[0]['name']}: {_listed(days)}. What was sold then belongs "
            f"to {owner or 'no event'}.",
        )
        for owner, days in elsewhere.items()
    ]


def _listed(days: Sequence[dt.date]) -> str:
    more = len(days) - SHOWN
    return ", ".join(str(day) for day in days[:SHOWN]) + (f" and {more} more" if more > 0 else "")
