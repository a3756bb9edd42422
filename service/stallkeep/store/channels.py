"""Channels: the ways of selling, and their dated fee schedules."""

from __future__ import annotations

import datetime as dt
from typing import Any, Final
from uuid import UUID

import msgspec
from sqlalchemy import Date, bindparam, select
from sqlalchemy.dialects.postgresql import insert

from stallkeep.store.connection import Connection
from stallkeep.store.query import Query
from stallkeep.store.rows import Rows
from stallkeep.store.statements import columns_of, here
from stallkeep.store.tables import channel, fee_schedule


class Channel(msgspec.Struct, frozen=True, gc=False):
    """A way of selling; `kind` is online, direct or stall."""

    id: UUID
    name: str
    kind: str
    created_at: dt.datetime
    version: int


class DatedFees(msgspec.Struct, frozen=True, gc=False):
    """The fees of a channel from a day on; `terms` is a FeeSchedule as JSON."""

    valid_from: dt.date
    terms: dict[str, Any]


_ALL: Final = Query(
    select(*columns_of(channel, Channel)).where(here(channel)).order_by(channel.c.name), Channel
)
_OF_CHANNEL: Final = here(fee_schedule) & (fee_schedule.c.channel_id == bindparam("channel_id"))
_FEES: Final = Query(
    select(*columns_of(fee_schedule, DatedFees))
    .where(_OF_CHANNEL)
    .order_by(fee_schedule.c.valid_from),
    DatedFees,
)
_FEE_COLUMNS: Final = ("shop_id", "channel_id", "valid_from", "terms")
_NEW_FEES = insert(fee_schedule).values({name: bindparam(name) for name in _FEE_COLUMNS})
_PUT_FEES: Final = Query(
    _NEW_FEES.on_conflict_do_update(
        index_elements=["shop_id", "channel_id", "valid_from"],
        set_={"terms": _NEW_FEES.excluded.terms},
    )
)
_REMOVE_FEES: Final = Query(
    fee_schedule.delete().where(
        _OF_CHANNEL, fee_schedule.c.valid_from == bindparam("valid_from", type_=Date())
    )
)

_CHANNELS: Final = Rows(channel, Channel)
find_channel = _CHANNELS.find
lock_channel = _CHANNELS.lock
add_channel = _CHANNELS.add
change_channel = _CHANNELS.change
remove_channel = _CHANNELS.remove
"""Only a channel that nothing refers to; its fees go with it."""


async def all_channels(con: Connection, shop_id: UUID) -> list[Channel]:
    """Read every channel by name: a shop has a handful."""
    return await _ALL.all(con, shop_id=shop_id)


async def fees_of(con: Connection, shop_id: UUID, channel_id: UUID) -> list[DatedFees]:
    """Read a channel's fee schedules, earliest first."""
    return await _FEES.all(con, shop_id=shop_id, channel_id=channel_id)


async def put_fees(
    con: Connection, shop_id: UUID, channel_id: UUID, valid_from: dt.date, terms: object
) -> None:
    """Write or replace the schedule that begins on a day."""
    await _PUT_FEES.execute(
        con, shop_id=shop_id, channel_id=channel_id, valid_from=valid_from, terms=terms
    )


async def remove_fees(
    con: Connection, shop_id: UUID, channel_id: UUID, valid_from: dt.date
) -> bool:
    """Delete the schedule that begins on a day; False when there is none."""
    removed = await _REMOVE_FEES.execute(
        con, shop_id=shop_id, channel_id=channel_id, valid_from=valid_from
    )
    return removed > 0
