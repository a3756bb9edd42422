"""Ring a sale up at the stall, or type one in afterwards."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal
from uuid import UUID

from litestar import Response, post
from litestar.di import NamedDependency
from litestar.params import JSONBody
from msgspec import Meta

from stallkeep.api.answers import created, versioned
from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.conflicts import Conflict, conflict_view
from stallkeep.api.items import Code
from stallkeep.api.once import Once
from stallkeep.api.problems import field_error
from stallkeep.api.sales import Method, Sale, sale_view
from stallkeep.api.schemas import Body, Moment, Note, Price, Quantity, Title, View, minor
from stallkeep.store.connection import Connection
from stallkeep.work import ring_up as work
from stallkeep.work.references import Named

EnteredAt = Literal["stall", "typed"]


class NewSaleLine(Body):
    """A line named by tag code or id, or an untagged piece; the price is for all of the line.

    The price is as the shop states prices: without tax where the shop adds it at the till.
    """

    price: Price
    tag_code: Code | None = None
    item_id: UUID | None = None
    title: Title | None = None
    quantity: Quantity = 1


class NewSale(Body):
    """A sale to one customer.

    `id` may be made by the client (a UUID): sending the same sale twice is then harmless. A sale
    from the stall is always kept, a typed one is refused when a piece is sold already.
    """

    lines: Annotated[list[NewSaleLine], Meta(min_length=1, max_length=200)]
    id: UUID | None = None
    event_id: UUID | None = None
    channel_id: UUID | None = None
    entered: EnteredAt | None = None
    method: Method | None = None
    sold_at: Moment | None = None
    sold_on: dt.date | None = None
    note: Note | None = None


class RungUp(View):
    """The sale as written, and what a person must look at."""

    sale: Sale
    conflicts: list[Conflict]


@post("/v1/sales", operation_id="ringUp", tags=["sales"], opt=FOR_HELPERS)
async def add_sale(
    data: JSONBody[NewSale], caller: NamedDependency[Caller], once: NamedDependency[Once]
) -> Response[RungUp]:
    """Write a sale: 201 when it is new, 200 when the same sale was sent before."""
    new = _new_sale(data, caller)

    async def do(con: Connection) -> Response[RungUp]:
        rung = await work.ring_up(
            con, caller.shop, new, said_by=caller.name, now=dt.datetime.now(dt.UTC)
        )
        view = RungUp(
            sale=sale_view(rung.sale, rung.lines, caller),
            conflicts=[conflict_view(one, caller) for one in rung.conflicts],
        )
        if not rung.is_new:
            return versioned(view, rung.sale.version)
        return created(view, f"/v1/sales/{rung.sale.id}", rung.sale.version)

    return await once(do)


def _new_sale(data: NewSale, caller: Caller) -> work.NewSale:
    return work.NewSale(
        id=data.id,
        channel_id=data.channel_id,
        event_id=data.event_id,
        origin=data.entered or ("stall" if data.event_id else "typed"),
        method=data.method,
        sold_at=data.sold_at,
        sold_on=data.sold_on,
        note=data.note,
        lines=[_new_line(line, place, caller) for place, line in enumerate(data.lines)],
    )


def _new_line(line: NewSaleLine, place: int, caller: Caller) -> work.NewLine:
    if line.tag_code is not None and line.item_id is not None:
        raise field_error("Expected tag_code or item_id, not both", ("lines", place))
    is_named = line.tag_code is not None or line.item_id is not None
    return work.NewLine(
        named=Named(item_id=line.item_id, tag_code=line.tag_code) if is_named else None,
        title=line.title,
        quantity=line.quantity,
        price_minor=minor(line.price, caller.shop.currency, ("lines", place, "price")),
    )


ROUTES = (add_sale,)
