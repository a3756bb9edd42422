"""What goes to an event and what comes home: the rail, the stock count, the stubs."""

from __future__ import annotations

import datetime as dt
from itertools import groupby
from typing import Annotated
from uuid import UUID

from litestar import delete, get, put
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from msgspec import Meta, field

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.items import Code
from stallkeep.api.problems import FieldError, error_of, field_error
from stallkeep.api.schemas import Body, Moment, Price, Quantity, View, minor, shown
from stallkeep.domain.errors import MoneyTextError
from stallkeep.domain.money import from_text
from stallkeep.store import rail as store
from stallkeep.work import rail as work
from stallkeep.work.references import Named

MOST_PIECES = 5000


class RailPiece(View):
    """A piece taken along; `usual_price` is its price elsewhere, `counted_home` what came back."""

    item_id: UUID
    tag_code: str
    title: str
    quantity: int
    price: Price | None
    usual_price: Price | None
    put_out_at: Moment | None
    counted_home: int | None


class Rail(View):
    """Every piece taken to the event, by tag code."""

    pieces: list[RailPiece]


class NewRailPiece(Body):
    """A piece to take along, named by its tag code or its id."""

    tag_code: Code | None = None
    item_id: UUID | None = None
    quantity: Quantity = 1
    price: Price | None = None
    put_out_at: Moment | None = None


class NewRail(Body):
    """The whole rail: pieces not named are not taken along."""

    pieces: Annotated[list[NewRailPiece], Meta(max_length=MOST_PIECES)]


class CountedCode(Body):
    """A tag code that came home, and how many of it."""

    tag_code: Code
    quantity: Annotated[int, Meta(ge=0, le=1_000_000)] = 1


class NewCount(Body):
    """What came home: short as codes, a code twice counting twice; or with how many of each."""

    codes: Annotated[list[Code], Meta(max_length=MOST_PIECES)] = field(default_factory=list)
    lines: Annotated[list[CountedCode], Meta(max_length=MOST_PIECES)] = field(default_factory=list)


class StockCount(View):
    """The rail with its count, and the codes that fit nothing on it, as they were typed."""

    pieces: list[RailPiece]
    unknown: list[str]
    not_on_rail: list[str]


class StubLine(Body):
    """One kept stub: the code as read, and the price where one is written on it."""

    tag_code: Code
    price: Price | None = None


class DayOfStubs(Body):
    """The stubs of one day, in the order they were kept if `ordered`."""

    day: dt.date
    stubs: Annotated[list[StubLine], Meta(max_length=MOST_PIECES)]
    ordered: bool = True


class Stubs(Body):
    """Every stub kept at the event."""

    days: Annotated[list[DayOfStubs], Meta(max_length=62)]


def _rail(rows: list[store.RailPiece], caller: Caller) -> list[RailPiece]:
    return [shown(RailPiece, row, caller.shop.currency) for row in rows]


@get("/v1/events/{event_id:uuid}/rail", operation_id="readRail", tags=["events"], opt=FOR_HELPERS)
async def read_rail(event_id: FromPath[UUID], caller: NamedDependency[Caller]) -> Rail:
    """Read what is taken to the event."""
    async with caller.read_scope() as con:
        rows = await work.read_rail(con, caller.shop.shop_id, event_id)
    return Rail(pieces=_rail(rows, caller))


@put("/v1/events/{event_id:uuid}/rail", operation_id="putRail", tags=["events"])
async def put_rail(
    event_id: FromPath[UUID], data: JSONBody[NewRail], caller: NamedDependency[Caller]
) -> Rail:
    """Say what is taken to the event; refused as a whole when a piece is none of the shop's."""
    packed = [_packed(one, n, caller) for n, one in enumerate(data.pieces)]
    async with caller.scope() as con:
        rows = await work.put_rail(con, caller.shop.shop_id, event_id, packed)
    return Rail(pieces=_rail(rows, caller))


def _packed(one: NewRailPiece, place: int, caller: Caller) -> work.Packed:
    if (one.tag_code is None) == (one.item_id is None):
        raise field_error("Expected either tag_code or item_id", ("pieces", place))
    at = ("pieces", place, "price")
    return work.Packed(
        named=Named(item_id=one.item_id, tag_code=one.tag_code),
        quantity=one.quantity,
        price_minor=None if one.price is None else minor(one.price, caller.shop.currency, at),
        put_out_at=one.put_out_at,
    )


@put(
    "/v1/events/{event_id:uuid}/count",
    operation_id="putCount",
    tags=["events"],
    opt=FOR_HELPERS,
)
async def put_count(
    event_id: FromPath[UUID], data: JSONBody[NewCount], caller: NamedDependency[Caller]
) -> StockCount:
    """Say which codes came home; every piece not named did not. Codes that fit are taken."""
    typed = [(code, 1) for code in data.codes]
    typed += [(line.tag_code, line.quantity) for line in data.lines]
    async with caller.scope() as con:
        count = await work.put_count(con, caller.shop.shop_id, event_id, typed)
    return StockCount(
        pieces=_rail(count.pieces, caller), unknown=count.unknown, not_on_rail=count.not_on_rail
    )


@delete(
    "/v1/events/{event_id:uuid}/count",
    operation_id="removeCount",
    tags=["events"],
    opt=FOR_HELPERS,
)
async def remove_count(event_id: FromPath[UUID], caller: NamedDependency[Caller]) -> None:
    """Take the stock count back: nothing was counted."""
    async with caller.scope() as con:
        await work.take_count_back(con, caller.shop.shop_id, event_id)


@get(
    "/v1/events/{event_id:uuid}/stubs",
    operation_id="readStubs",
    tags=["events"],
    opt=FOR_HELPERS,
)
async def read_stubs(event_id: FromPath[UUID], caller: NamedDependency[Caller]) -> Stubs:
    """Read the stubs that were kept."""
    async with caller.read_scope() as con:
        return _stubs(await work.read_stubs(con, caller.shop.shop_id, event_id), caller)


@put(
    "/v1/events/{event_id:uuid}/stubs",
    operation_id="putStubs",
    tags=["events"],
    opt=FOR_HELPERS,
)
async def put_stubs(
    event_id: FromPath[UUID], data: JSONBody[Stubs], caller: NamedDependency[Caller]
) -> Stubs:
    """Enter every stub that was kept; a code is kept as read, even when it fits nothing.

    Refused as a whole when a day is none of the event's or an amount cannot be read; every such
    place is named.
    """
    if len({day.day for day in data.days}) < len(data.days):
        raise field_error("Expected each day once", ("days",))
    days, event = [day.day for day in data.days], (caller.shop.shop_id, event_id)
    stubs, faults = _read_stubs(data, caller.shop.currency)
    async with caller.scope() as con:
        if faults:
            outside = await work.days_outside(con, *event, days)
            wrong = [FieldError(told, f"#/days/{place}/day") for place, told in outside.items()]
            raise error_of([*wrong, *faults])
        return _stubs(await work.put_stubs(con, *event, days, stubs), caller)


def _read_stubs(data: Stubs, currency: str) -> tuple[list[store.Stub], list[FieldError]]:
    """Read every stub, and say which prices cannot be read."""
    stubs: list[store.Stub] = []
    faults: list[FieldError] = []
    for n, day in enumerate(data.days):
        for position, stub in enumerate(day.stubs, 1):
            try:
                price = None if stub.price is None else from_text(stub.price, currency)
            except MoneyTextError as error:
                place = f"#/days/{n}/stubs/{position - 1}/price"
                faults.append(FieldError(error.detail, place))
            else:
                stubs.append(store.Stub(day.day, position, stub.tag_code, price, day.ordered))
    return stubs, faults


def _stubs(rows: list[store.Stub], caller: Caller) -> Stubs:
    days = []
    for day, found in groupby(rows, key=lambda row: row.day):
        kept = list(found)
        lines = [shown(StubLine, row, caller.shop.currency) for row in kept]
        days.append(DayOfStubs(day=day, stubs=lines, ordered=kept[0].ordered))
    return Stubs(days=days)


ROUTES = (read_rail, put_rail, put_count, remove_count, read_stubs, put_stubs)
