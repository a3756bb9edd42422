"""Keep the channels and what they charge."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from uuid import UUID

import msgspec

from stallkeep.domain.fees import FeeSchedule
from stallkeep.store import channels
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.work.stock_errors import ChannelNotFoundError, FeesNotFoundError
from stallkeep.work.versions import Expected


async def read_channel(con: Connection, shop_id: UUID, channel_id: UUID) -> channels.Channel:
    """Read one channel.

    Raises:
        ChannelNotFoundError: The shop has none with this id.
    """
    return _found(await channels.find_channel(con, shop_id, channel_id), channel_id)


async def add_channel(con: Connection, shop_id: UUID, name: str, kind: str) -> channels.Channel:
    """Open a channel.

    Raises:
        NameTakenError: The shop has one of this name.
    """
    values = {"shop_id": shop_id, "id": new_id(), "name": name, "kind": kind}
    return await channels.add_channel(con, values)


async def change_channel(
    con: Connection,
    shop_id: UUID,
    channel_id: UUID,
    values: Mapping[str, object],
    expected: Expected,
) -> channels.Channel:
    """Change the columns named in *values*.

    Raises:
        ChannelNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
        NameTakenError: The shop has another of this name.
    """
    channel = _found(await channels.lock_channel(con, shop_id, channel_id), channel_id)
    expected.check(channel.version)
    return await channels.change_channel(con, shop_id, channel_id, values)


async def remove_channel(
    con: Connection, shop_id: UUID, channel_id: UUID, expected: Expected
) -> None:
    """Remove a channel on which nothing was ever done.

    Raises:
        ChannelNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
        InUseError: Listings, events, imports or sales refer to it.
    """
    channel = _found(await channels.lock_channel(con, shop_id, channel_id), channel_id)
    expected.check(channel.version)
    await channels.remove_channel(con, shop_id, channel_id)


async def read_fees(
    con: Connection, shop_id: UUID, channel_id: UUID
) -> list[tuple[dt.date, FeeSchedule]]:
    """Read a channel's fee schedules with the day each begins, earliest first.

    Raises:
        ChannelNotFoundError: The shop has none with this id.
    """
    await read_channel(con, shop_id, channel_id)
    found = await channels.fees_of(con, shop_id, channel_id)
    return [(one.valid_from, msgspec.convert(one.terms, FeeSchedule)) for one in found]


async def put_fees(
    con: Connection, shop_id: UUID, channel_id: UUID, valid_from: dt.date, terms: FeeSchedule
) -> None:
    """Say what a channel charges from a day on.

    Raises:
        ChannelNotFoundError: The shop has none with this id.
    """
    await read_channel(con, shop_id, channel_id)
    plain = msgspec.to_builtins(terms)
    await channels.put_fees(con, shop_id, channel_id, valid_from, plain)


async def remove_fees(
    con: Connection, shop_id: UUID, channel_id: UUID, valid_from: dt.date
) -> None:
    """Take a fee schedule back.

    Raises:
        ChannelNotFoundError: The shop has none with this id.
        FeesNotFoundError: None begins on this day.
    """
    await read_channel(con, shop_id, channel_id)
    if not await channels.remove_fees(con, shop_id, channel_id, valid_from):
        raise FeesNotFoundError(f"The channel has no fee schedule from {valid_from}")


def _found(channel: channels.Channel | None, channel_id: UUID) -> channels.Channel:
    if channel is None:
        raise ChannelNotFoundError(f"There is no channel {channel_id}")
    return channel
