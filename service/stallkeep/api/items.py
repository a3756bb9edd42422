"""Items: the stock, piece by piece."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal
from uuid import UUID

from litestar import Response, delete, get, patch, post
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody, QueryParameter
from msgspec import UNSET, Meta, UnsetType

from stallkeep.api.answers import created, versioned
from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.once import Once
from stallkeep.api.pages import DEFAULT_LIMIT, Cursor, Limit, Page, page, read_cursor
from stallkeep.api.schemas import Body, Moment, Note, Price, Title, View, Word, entered, shown
from stallkeep.api.strictness import StrictRequest
from stallkeep.domain.tag_codes import normalise
from stallkeep.store import items as store
from stallkeep.store.connection import Connection
from stallkeep.work import items as work
from stallkeep.work.versions import Expected

Code = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=40,
        pattern=r"^[^\x00-\x1f]*$",
        description="As on the swing tag; ours may be typed with blanks or look-alikes",
    ),
]
Stock = Annotated[int, Meta(ge=0, le=1_000_000)]
ItemState = Literal["in_stock", "sold"]


class Item(View):
    """One piece, or several alike: `sold` of `quantity` are gone."""

    id: UUID
    tag_code: str
    title: str
    category: str | None
    size: str | None
    note: str | None
    quantity: int
    sold: int
    state: ItemState
    price: Price | None
    floor: Price | None
    cost: Price | None
    acquired_on: dt.date | None
    reserved_until: dt.date | None
    margin_scheme: bool
    import_id: UUID | None
    created_at: Moment


class NewItem(Body):
    """A piece to take into stock; without a tag code it gets one."""

    title: Title
    tag_code: Code | None = None
    category: Word | None = None
    size: Word | None = None
    note: Note | None = None
    quantity: Stock = 1
    price: Price | None = None
    floor: Price | None = None
    cost: Price | None = None
    acquired_on: dt.date | None = None
    reserved_until: dt.date | None = None
    margin_scheme: bool = False


class ItemChanges(Body):
    """What to change; what is left out stays, null clears."""

    title: Title | UnsetType = UNSET
    tag_code: Code | UnsetType = UNSET
    category: Word | UnsetType | None = UNSET
    size: Word | UnsetType | None = UNSET
    note: Note | UnsetType | None = UNSET
    quantity: Stock | UnsetType = UNSET
    price: Price | UnsetType | None = UNSET
    floor: Price | UnsetType | None = UNSET
    cost: Price | UnsetType | None = UNSET
    acquired_on: dt.date | UnsetType | None = UNSET
    reserved_until: dt.date | UnsetType | None = UNSET
    margin_scheme: bool | UnsetType = UNSET


def _view(row: store.Item, caller: Caller) -> Item:
    state = "in_stock" if row.left > 0 else "sold"
    return shown(Item, row, caller.shop.currency, state=state)


def _answer(row: store.Item, caller: Caller) -> Response[Item]:
    return versioned(_view(row, caller), row.version)


@get("/v1/items", operation_id="listItems", tags=["items"], opt=FOR_HELPERS)
async def list_items(
    request: StrictRequest,
    caller: NamedDependency[Caller],
    code: Annotated[
        str | None, QueryParameter(max_length=40, description="What the tag code begins with")
    ] = None,
    category: Annotated[str | None, QueryParameter(max_length=100)] = None,
    in_state: Annotated[
        ItemState | None, QueryParameter(name="state", description="Left in stock, or gone")
    ] = None,
    limit: Limit = DEFAULT_LIMIT,
    cursor: Cursor = None,
) -> Response[Page[Item]]:
    """List the stock, newest first."""
    after = read_cursor(cursor, tuple[dt.datetime, UUID])
    filters = {
        "code": None if code is None else normalise(code),
        "category": category,
        "state": in_state,
    }
    async with caller.read_scope() as con:
        rows = await store.list_items(con, caller.shop.shop_id, filters, after=after, limit=limit)
    return page(
        request, rows, limit, lambda row: _view(row, caller), lambda row: (row.created_at, row.id)
    )


@get("/v1/items/{item_id:uuid}", operation_id="readItem", tags=["items"], opt=FOR_HELPERS)
async def read_item(item_id: FromPath[UUID], caller: NamedDependency[Caller]) -> Response[Item]:
    """Read one item."""
    async with caller.read_scope() as con:
        return _answer(await work.read_item(con, caller.shop.shop_id, item_id), caller)


@post("/v1/items", operation_id="addItem", tags=["items"])
async def add_item(
    data: JSONBody[NewItem], caller: NamedDependency[Caller], once: NamedDependency[Once]
) -> Response[Item]:
    """Take a piece into stock."""
    values = entered(data, caller.shop.currency)

    async def do(con: Connection) -> Response[Item]:
        row = await work.add_item(con, caller.shop.shop_id, values)
        return created(_view(row, caller), f"/v1/items/{row.id}", row.version)

    return await once(do)


@patch("/v1/items/{item_id:uuid}", operation_id="changeItem", tags=["items"])
async def change_item(
    item_id: FromPath[UUID],
    data: JSONBody[ItemChanges],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> Response[Item]:
    """Change an item."""
    values = entered(data, caller.shop.currency)
    async with caller.scope() as con:
        row = await work.change_item(con, caller.shop.shop_id, item_id, values, expected)
    return _answer(row, caller)


@delete("/v1/items/{item_id:uuid}", operation_id="removeItem", tags=["items"])
async def remove_item(
    item_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    expected: NamedDependency[Expected],
) -> None:
    """Remove an item that was never listed, taken to an event or sold."""
    async with caller.scope() as con:
        await work.remove_item(con, caller.shop.shop_id, item_id, expected)


ROUTES = (list_items, read_item, add_item, change_item, remove_item)
