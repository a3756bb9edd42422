"""Whether a file is sent to a place that can be right: channel and event, and only one."""

from __future__ import annotations

from typing import Any, Final
from uuid import UUID

import msgspec

from stallkeep.store.channels import find_channel
from stallkeep.store.connection import Connection
from stallkeep.store.events import find_event
from stallkeep.store.shops import Shop
from stallkeep.work.import_errors import FileIsElsewhereError, PlacesDifferError, PlaceUnknownError
from stallkeep.work.import_order import ImportOrder
from stallkeep.work.place_for import OF_A_CHANNEL
from stallkeep_importers.contract import Importer

_SAME_FILE: Final = """
select i.id, i.started_at, c.name as channel, e.name as event
  from import i
  left join channel c on c.shop_id = $1 and c.id = i.channel_id
  left join event e on e.shop_id = $1 and e.id = i.event_id
 where i.shop_id = $1 and i.file_sha256 = $2 and i.importer = $3 and i.state = 'done'
   and i.taken > 0
   and case when $4 then i.channel_id <> $5 else i.event_id <> $6 end
 order by i.started_at limit 1
"""


async def with_place(con: Connection, shop: Shop, order: ImportOrder) -> ImportOrder:
    """Fill in the channel of the event that a file is said to be of.

    Raises:
        PlaceUnknownError: The shop has no such channel or event.
        PlacesDifferError: The event is on another channel than the one named.
    """
    channel_id, event_id = order.channel_id, order.event_id
    channel = None if channel_id is None else await find_channel(con, shop.shop_id, channel_id)
    if channel_id is not None and channel is None:
        raise PlaceUnknownError("channel", channel_id)
    if event_id is None:
        return order
    event = await find_event(con, shop.shop_id, event_id)
    if event is None:
        raise PlaceUnknownError("event", event_id)
    if channel is not None and channel.id != event.channel_id:
        own = await find_channel(con, shop.shop_id, event.channel_id)
        raise PlacesDifferError(
            f"{event.name} is an event of the channel {own.name if own else '?'}, and the file is "
            f"said to be of {channel.name}: name one of them, or both alike"
        )
    return msgspec.structs.replace(order, channel_id=event.channel_id)


async def refuse_second_place(
    con: Connection, shop: Shop, importer: Importer, order: ImportOrder, digest: bytes
) -> None:
    """Refuse the very file that was taken in at another place before: all would stand twice.

    Raises:
        FileIsElsewhereError: It was, and that import was not undone.
    """
    by_channel = bool(importer.gives & OF_A_CHANNEL)
    place = (by_channel, order.channel_id, order.event_id)
    row: Any = await con.fetchrow(_SAME_FILE, shop.shop_id, digest, importer.name, *place)
    if row is None:
        return
    where = f"the channel {row['channel']}" if by_channel else f"the event {row['event']}"
    import_id: UUID = row["id"]
    raise FileIsElsewhereError(
        f"This very file was taken in for {where} on {row['started_at']:%Y-%m-%d}: its rows would "
        f"stand twice. If that was the wrong place, undo that import ({import_id}) first.",
        other_import_id=str(import_id),
    )
