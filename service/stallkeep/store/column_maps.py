"""How a layout was read and what was answered about it, remembered per shop."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final
from uuid import UUID

import msgspec

from stallkeep.store.connection import Connection

_FIND: Final = """
select importer, fingerprint, options, headers, channel_id from column_map
 where shop_id = $1 and importer = $2 and fingerprint = $3
"""
_LATEST: Final = """
select importer, fingerprint, options, headers, channel_id from column_map
 where shop_id = $1 and importer = $2 and channel_id = $3
 order by confirmed_at desc limit 1
"""
_MET: Final = "select distinct importer from column_map where shop_id = $1 order by importer"
_LAST_IMPORTER: Final = """
select importer from column_map
 where shop_id = $1 and (importer, fingerprint) in (select * from unnest($2::text[], $3::text[]))
 order by confirmed_at desc limit 1
"""
_KEEP: Final = """
insert into column_map (shop_id, importer, fingerprint, options, headers, channel_id, confirmed_by)
values ($1, $2, $3, $4, $5, $6, $7)
on conflict (shop_id, importer, fingerprint) do update
   set options = excluded.options, headers = excluded.headers,
       channel_id = coalesce(excluded.channel_id, column_map.channel_id),
       confirmed_by = excluded.confirmed_by, confirmed_at = now()
"""


class ColumnMap(msgspec.Struct, frozen=True, gc=False):
    """A layout that was taken in before, with the answers it needed."""

    importer: str
    fingerprint: str
    options: dict[str, Any]
    headers: list[str]
    channel_id: UUID | None


async def find_column_map(
    con: Connection, shop_id: UUID, importer: str, fingerprint: str
) -> ColumnMap | None:
    """Read what is remembered about a layout."""
    row = await con.fetchrow(_FIND, shop_id, importer, fingerprint)
    return None if row is None else ColumnMap(*row)


async def latest_column_map(
    con: Connection, shop_id: UUID, importer: str, channel_id: UUID
) -> ColumnMap | None:
    """Read the layout that this importer last met on this channel."""
    row = await con.fetchrow(_LATEST, shop_id, importer, channel_id)
    return None if row is None else ColumnMap(*row)


async def importers_met(con: Connection, shop_id: UUID) -> list[str]:
    """List the importers that have taken files of this shop in, by name."""
    return [row["importer"] for row in await con.fetch(_MET, shop_id)]


async def last_importer(con: Connection, shop_id: UUID, marks: Mapping[str, str]) -> str | None:
    """Say which importer was last confirmed for a layout; *marks*: importer → its fingerprint."""
    name: str | None = await con.fetchval(
        _LAST_IMPORTER, shop_id, list(marks), list(marks.values())
    )
    return name


async def keep_column_map(
    con: Connection, shop_id: UUID, column_map: ColumnMap, confirmed_by: str
) -> None:
    """Remember a layout, its answers and its channel."""
    await con.execute(
        _KEEP,
        shop_id,
        column_map.importer,
        column_map.fingerprint,
        column_map.options,
        column_map.headers,
        column_map.channel_id,
        confirmed_by,
    )
