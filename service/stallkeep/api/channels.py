"""Channels: the ways of selling, and what each charges from which day on."""

from __future__ import annotations

import datetime as dt
from typing import Literal
from uuid import UUID

from litestar import Response, delete, get, patch, post, put
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from msgspec import UNSET, UnsetType

from stallkeep.api.answers import created, versioned
from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.fee_terms import FeeTerms, read_terms, show_terms
from stallkeep.api.once import Once
from stallkeep.api.schemas import Body, Moment, View, Word, entered, shown
from stallkeep.store import channels as store
from stallkeep.store.connection import Connection
from stallkeep.work import channels as work
from stallkeep.work.versions import Expected

ChannelKind = Literal["online", "direct", "stall"]


class Channel(View):
    """A way of selling."""

    id: UUID
    name: str
    kind: ChannelKind
    created_at: Moment


class ChannelList(View):
    """Every channel of the shop, by name."""

    data: list[Channel]


class NewChannel(Body):
    """A channel to open."""

    name: Word
    kind: ChannelKind


class ChannelChanges(Body):
    """What to change; what is left out stays."""

    name: Word | UnsetType = UNSET


class DatedFees(View):
    """What the channel charges from a day on, until the next schedule begins."""

    valid_from: dt.date
    terms: FeeTerms


class DatedFeesList(View):
    """Every fee schedule of the channel, earliest first."""

    data: list[DatedFees]


def _answer(row: store.Channel, caller: Caller) -> Response[Channel]:
    return versioned(shown(Channel, row, caller.shop.currency), row.version)


@get("/v1/channels", operation_id="listChannels", tags=["channels"], opt=FOR_HELPERS)
async def list_channels(caller: NamedDependency[Caller]) -> ChannelList:
    """List every channel."""
    async with caller.read_scope() as con:
        rows = await store.all_channels(con, caller.shop.shop_id)
    return ChannelList(data=[shown(Channel, row, caller.shop.currency) for row in rows])


@get(
    "/v1/channels/{channel_id:uuid}",
    operation_id="readChannel",
    tags=["channels"],
    opt=FOR_HELPERS,
)
async def read_channel(
    channel_id: FromPath[UUID], caller: NamedDependency[Caller]
) -> Response[Channel]:
    """Read one channel."""
    async with caller.read_scope() as con:
        return _answer(await work.read_channel(con, caller.shop.shop_id, channel_id), caller)


@post("/v1/channels", operation_id="addChannel", tags=["channels"])
async def add_channel(
    data: JSONBody[NewChannel], caller: NamedDependency[Caller], once: NamedDependency[Once]
) -> Response[Channel]:
    """Open a channel."""

    async def do(con: Connection) -> Response[Channel]:
        row = await work.add_channel(con, caller.shop.shop_id, data.name, data.kind)
        view = shown(Channel, row, caller.shop.currency)
        return created(view, f"/v1/channels/{row.id}", row.version)

    return await once(do)


@patch("/v1/channels/{channel_id:uuid}", operation_id="changeChannel", tags=["channels"])
async def change_channel(
    channel_id: FromPath[UUID],
    data: JSONBody[ChannelChanges],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> Response[Channel]:
    """Rename a channel."""
    values = entered(data, caller.shop.currency)
    async with caller.scope() as con:
        row = await work.change_channel(con, caller.shop.shop_id, channel_id, values, expected)
    return _answer(row, caller)


@delete("/v1/channels/{channel_id:uuid}", operation_id="removeChannel", tags=["channels"])
async def remove_channel(
    channel_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> None:
    """Remove a channel on which nothing was ever done."""
    async with caller.scope() as con:
        await work.remove_channel(con, caller.shop.shop_id, channel_id, expected)


@get("/v1/channels/{channel_id:uuid}/fees", operation_id="listFees", tags=["channels"])
async def list_fees(channel_id: FromPath[UUID], caller: NamedDependency[Caller]) -> DatedFeesList:
    """List the channel's fee schedules."""
    currency = caller.shop.currency
    async with caller.read_scope() as con:
        found = await work.read_fees(con, caller.shop.shop_id, channel_id)
    return DatedFeesList(
        data=[DatedFees(valid_from=day, terms=show_terms(one, currency)) for day, one in found]
    )


@put(
    "/v1/channels/{channel_id:uuid}/fees/{valid_from:date}",
    operation_id="putFees",
    tags=["channels"],
)
async def put_fees(
    channel_id: FromPath[UUID],
    valid_from: FromPath[dt.date],
    data: JSONBody[FeeTerms],
    caller: NamedDependency[Caller],
) -> DatedFees:
    """Say what the channel charges from a day on."""
    currency = caller.shop.currency
    terms = read_terms(data, currency)
    async with caller.scope() as con:
        await work.put_fees(con, caller.shop.shop_id, channel_id, valid_from, terms)
    return DatedFees(valid_from=valid_from, terms=show_terms(terms, currency))


@delete(
    "/v1/channels/{channel_id:uuid}/fees/{valid_from:date}",
    operation_id="removeFees",
    tags=["channels"],
)
async def remove_fees(
    channel_id: FromPath[UUID],
    valid_from: FromPath[dt.date],
    caller: NamedDependency[Caller],
) -> None:
    """Take a fee schedule back."""
    async with caller.scope() as con:
        await work.remove_fees(con, caller.shop.shop_id, channel_id, valid_from)


ROUTES = (
    list_channels,
    read_channel,
    add_channel,
    change_channel,
    remove_channel,
    list_fees,
    put_fees,
    remove_fees,
)
