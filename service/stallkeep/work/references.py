"""Find what a request's body names by id or tag code."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

import msgspec

from stallkeep.store import channels, events, items
from stallkeep.store.connection import Connection
from stallkeep.work.stock_errors import UnknownReferenceError
from stallkeep.work.take_listings import stored_code


class Named(msgspec.Struct, frozen=True):
    """An item as a request names it: by id or by tag code as typed."""

    item_id: UUID | None = None
    tag_code: str | None = None


async def need_channel(
    con: Connection, shop_id: UUID, channel_id: UUID, pointer: str = "#/channel_id"
) -> channels.Channel:
    """Read a channel that a body names.

    Raises:
        UnknownReferenceError: The shop has none with this id.
    """
    channel = await channels.find_channel(con, shop_id, channel_id)
    if channel is None:
        raise UnknownReferenceError(f"The shop has no channel {channel_id}", pointer)
    return channel


async def need_event(
    con: Connection, shop_id: UUID, event_id: UUID, pointer: str = "#/event_id"
) -> events.Event:
    """Read an event that a body names.

    Raises:
        UnknownReferenceError: The shop has none with this id.
    """
    event = await events.find_event(con, shop_id, event_id)
    if event is None:
        raise UnknownReferenceError(f"The shop has no event {event_id}", pointer)
    return event


async def match_items(
    con: Connection, shop_id: UUID, named: Sequence[Named], *, lock: bool = False
) -> list[items.Item | None]:
    """Read the items named, in the order of *named*; None where the shop has none such.

    Args:
        con: In the shop's scope.
        shop_id: The shop.
        named: Ids or codes.
        lock: True to let nobody change them until the transaction ends.
    """
    ids = [one.item_id for one in named if one.item_id is not None]
    codes = [stored_code(one.tag_code) for one in named if one.item_id is None and one.tag_code]
    read = items.lock_items if lock else items.find_items
    found = await read(con, shop_id, codes=codes, ids=ids)
    by_id = {item.id: item for item in found}
    by_code = {item.tag_code: item for item in found}
    return [
        by_id.get(one.item_id)
        if one.item_id is not None
        else by_code.get(stored_code(one.tag_code or ""))
        for one in named
    ]
