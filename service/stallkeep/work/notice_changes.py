"""Say when an export looks other than the last one, and when it lacks rows that were there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Final
from uuid import UUID

from stallkeep.store.column_maps import find_column_map, latest_column_map
from stallkeep.store.connection import Connection
from stallkeep_importers.contract import Layout, Notice

# Rows of the same importer and channel, within the days this file covers, that it does not hold.
# A row whose key is stored was held back (`store.intake`), so that the rows held tell which are not
# there. The first condition spares a channel's first file the search.
_VANISHED: Final = """
select count(*)::integer as missing from transaction t
  join import i on i.shop_id = t.shop_id and i.id = t.import_id
 where exists (select from import o where o.shop_id = $1 and o.channel_id = $2
                  and o.importer = $3 and o.id <> $4 and o.state = 'done')
   and t.shop_id = $1 and t.channel_id = $2 and i.importer = $3 and i.id <> $4
   and t.ordered_at > $5::date - interval '1 day' and t.ordered_at < $6::date + interval '1 day'
   and t.occurred_on > $5 and t.occurred_on < $6
   and not exists (select from intake s where s.row_key = t.row_key)
"""


async def layout_notices(
    con: Connection, shop_id: UUID, importer: str, channel_id: UUID, layout: Layout
) -> list[Notice]:
    """Compare a layout not met before with the last one of this importer on this channel."""
    if await find_column_map(con, shop_id, importer, layout.fingerprint) is not None:
        return []
    before = await latest_column_map(con, shop_id, importer, channel_id)
    if before is None:
        return []
    now = [column.header for column in layout.columns]
    parts = [
        f"{word}: {', '.join(names)}"
        for word, names in (
            ("new", _without(now, before.headers)),
            ("missing", _without(before.headers, now)),
        )
        if names
    ]
    what = "; ".join(parts) or "the same columns in another order or form"
    return [Notice(code="layout-changed", text=f"The columns are not those of last time: {what}.")]


def left_out_notices(layout: Layout) -> list[Notice]:
    """Name the columns that were dropped at the door because they may be personal."""
    dropped = [f"{column.header} ({column.why})" for column in layout.columns if column.personal]
    if not dropped:
        return []
    text = f"Left out and not stored: {', '.join(dropped)}."
    return [Notice(code="personal-left-out", text=text)]


async def vanished_notices(  # noqa: PLR0917 - the place is named by three of them
    con: Connection,
    shop_id: UUID,
    importer: str,
    channel_id: UUID,
    import_id: UUID,
    first_on: dt.date,
    last_on: dt.date,
) -> list[Notice]:
    """Count rows of earlier exports that lie within this file's days and are not in it.

    The first and the last day are left out: an export may begin and end within a day.
    """
    missing = await con.fetchval(
        _VANISHED, shop_id, channel_id, importer, import_id, first_on, last_on
    )
    if not missing:
        return []
    text = (
        f"{missing} row(s) that earlier exports had for these days are not in this one. They stay; "
        "if the provider took them back, set them aside."
    )
    return [Notice(code="rows-vanished", text=text)]


def _without(names: Sequence[str], others: Sequence[str]) -> list[str]:
    return [name for name in names if name not in others]
