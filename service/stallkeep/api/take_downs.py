"""Take-downs: live listings of pieces that are gone."""

from __future__ import annotations

import datetime as dt
from typing import Annotated
from uuid import UUID

from litestar import Response, get
from litestar.di import NamedDependency
from litestar.params import QueryParameter

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.pages import Cursor, Limit, Page, page, read_cursor
from stallkeep.api.schemas import View, shown
from stallkeep.api.strictness import StrictRequest
from stallkeep.store import take_downs as store

_FIRST = UUID(int=0)


class TakeDown(View):
    """A live listing somebody must end; probability 1 means the piece is sold for certain.

    Less means that a payment was probably for it, or that it is probably gone without one: the
    count missed it, its stub was kept, somebody saw that it is not there.
    """

    listing_id: UUID
    channel_id: UUID
    channel_name: str
    reference: str
    title: str
    price: str | None
    item_id: UUID
    tag_code: str
    probability: float
    sold_on: dt.date | None


@get("/v1/take-downs", operation_id="listTakeDowns", tags=["listings"], opt=FOR_HELPERS)
async def list_take_downs(
    request: StrictRequest,
    caller: NamedDependency[Caller],
    at_least: Annotated[
        float,
        QueryParameter(gt=0, le=1, description="Smallest probability that the piece is gone"),
    ] = 0.5,
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Response[Page[TakeDown]]:
    """List live listings of pieces that are sold, or probably gone: end them, or look now."""
    after = read_cursor(cursor, tuple[UUID])
    shop = caller.shop
    async with caller.read_scope() as con:
        rows = await store.list_take_downs(
            con,
            shop.shop_id,
            at_least=at_least,
            limit=limit,
            after=_FIRST if after is None else after[0],
        )
    return page(
        request,
        rows,
        limit,
        lambda row: shown(TakeDown, row, shop.currency, listing_id=row.id),
        lambda row: (row.id,),
    )


ROUTES = (list_take_downs,)
