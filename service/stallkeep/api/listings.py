"""Listings: items on offer on a channel."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal
from uuid import UUID

from litestar import Response, delete, get, patch, post
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody, QueryParameter
from msgspec import UNSET, UnsetType

from stallkeep.api.answers import created, versioned
from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.once import Once
from stallkeep.api.pages import DEFAULT_LIMIT, Cursor, Limit, Page, page, read_cursor
from stallkeep.api.schemas import Body, Moment, Price, Title, View, entered, shown
from stallkeep.api.strictness import StrictRequest
from stallkeep.store import listings as store
from stallkeep.store.connection import Connection
from stallkeep.work import listings as work
from stallkeep.work.versions import Expected

ListingState = Literal["live", "ended", "sold"]


class Listing(View):
    """One offer; `reference` is the channel's own name for it."""

    id: UUID
    channel_id: UUID
    item_id: UUID
    reference: str
    title: str
    price: Price | None
    state: ListingState
    listed_on: dt.date | None
    ended_on: dt.date | None
    import_id: UUID | None
    created_at: Moment


class NewListing(Body):
    """An offer to note; without a title it has the item's."""

    channel_id: UUID
    item_id: UUID
    reference: Title
    title: Title | None = None
    price: Price | None = None
    state: ListingState = "live"
    listed_on: dt.date | None = None
    ended_on: dt.date | None = None


class ListingChanges(Body):
    """What to change; what is left out stays, null clears. Without a day it ends today."""

    reference: Title | UnsetType = UNSET
    title: Title | UnsetType = UNSET
    price: Price | UnsetType | None = UNSET
    state: ListingState | UnsetType = UNSET
    listed_on: dt.date | UnsetType | None = UNSET
    ended_on: dt.date | UnsetType | None = UNSET


def _view(row: store.Listing, caller: Caller) -> Listing:
    return shown(Listing, row, caller.shop.currency)


@get("/v1/listings", operation_id="listListings", tags=["listings"], opt=FOR_HELPERS)
async def list_listings(
    request: StrictRequest,
    caller: NamedDependency[Caller],
    channel: Annotated[UUID | None, QueryParameter(description="Id of a channel")] = None,
    item: Annotated[UUID | None, QueryParameter(description="Id of an item")] = None,
    in_state: Annotated[ListingState | None, QueryParameter(name="state")] = None,
    limit: Limit = DEFAULT_LIMIT,
    cursor: Cursor = None,
) -> Response[Page[Listing]]:
    """List the offers, newest first."""
    after = read_cursor(cursor, tuple[UUID])
    filters = {"channel_id": channel, "item_id": item, "state": in_state}
    async with caller.read_scope() as con:
        rows = await store.list_listings(
            con, caller.shop.shop_id, filters, after=after, limit=limit
        )
    return page(request, rows, limit, lambda row: _view(row, caller), lambda row: (row.id,))


@get(
    "/v1/listings/{listing_id:uuid}",
    operation_id="readListing",
    tags=["listings"],
    opt=FOR_HELPERS,
)
async def read_listing(
    listing_id: FromPath[UUID], caller: NamedDependency[Caller]
) -> Response[Listing]:
    """Read one listing."""
    async with caller.read_scope() as con:
        row = await work.read_listing(con, caller.shop.shop_id, listing_id)
    return versioned(_view(row, caller), row.version)


@post("/v1/listings", operation_id="addListing", tags=["listings"])
async def add_listing(
    data: JSONBody[NewListing], caller: NamedDependency[Caller], once: NamedDependency[Once]
) -> Response[Listing]:
    """Note an offer that is on a channel."""
    values = entered(data, caller.shop.currency)

    async def do(con: Connection) -> Response[Listing]:
        row = await work.add_listing(con, caller.shop.shop_id, values)
        return created(_view(row, caller), f"/v1/listings/{row.id}", row.version)

    return await once(do)


@patch("/v1/listings/{listing_id:uuid}", operation_id="changeListing", tags=["listings"])
async def change_listing(
    listing_id: FromPath[UUID],
    data: JSONBody[ListingChanges],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> Response[Listing]:
    """Change an offer, or say that it has ended."""
    values = entered(data, caller.shop.currency)
    async with caller.scope() as con:
        row = await work.change_listing(
            con, caller.shop.shop_id, listing_id, values, expected, caller.today()
        )
    return versioned(_view(row, caller), row.version)


@delete("/v1/listings/{listing_id:uuid}", operation_id="removeListing", tags=["listings"])
async def remove_listing(
    listing_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> None:
    """Remove a listing that was a mistake; one that is over should be ended instead."""
    async with caller.scope() as con:
        await work.remove_listing(con, caller.shop.shop_id, listing_id, expected)


ROUTES = (list_listings, read_listing, add_listing, change_listing, remove_listing)
