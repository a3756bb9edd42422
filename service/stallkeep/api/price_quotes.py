"""Prices: the rules they follow, an item's prices side by side, and a rail priced at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

import msgspec
from litestar import Response, delete, get, post, put
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody, QueryParameter
from msgspec import Meta

from stallkeep.api.auth import Caller
from stallkeep.api.items import Code
from stallkeep.api.money_views import money_view, to_view
from stallkeep.api.once import Once
from stallkeep.api.price_terms import (
    PricePoints,
    PriceRule,
    read_points,
    read_rule,
    show_points,
    show_rule,
)
from stallkeep.api.problems import field_error
from stallkeep.api.schemas import Body, Price, minor
from stallkeep.store.connection import Connection
from stallkeep.work import price_terms, quote_prices, reprice_rail
from stallkeep.work.change_shop import change_shop
from stallkeep.work.references import Named
from stallkeep.work.versions import ANY

if TYPE_CHECKING:
    PriceQuotes = Any
    RailPrices = Any
else:
    PriceQuotes = money_view(quote_prices.PriceQuotes)
    RailPrices = money_view(reprice_rail.RailPrices)


class NewPriceQuote(Body):
    """What to price: a piece in stock, or one described by `price`; amounts override its own.

    `wanted_take_home` asks for the lowest price that leaves it; `expected_pieces` earns an
    event's pitch fee back over so many pieces.
    """

    tag_code: Code | None = None
    item_id: UUID | None = None
    price: Price | None = None
    cost: Price | None = None
    floor: Price | None = None
    wanted_take_home: Price | None = None
    expected_pieces: Annotated[int, Meta(ge=1, le=1_000_000)] | None = None


class NewRailPrices(Body):
    """The rule to price the rail by; null for the rule of the event's channel."""

    rule: PriceRule | None = None


@post("/v1/price-quotes", operation_id="quotePrices", tags=["channels"], status_code=200)
async def quote(data: JSONBody[NewPriceQuote], caller: NamedDependency[Caller]) -> PriceQuotes:
    """Price an item on every channel and coming event: price, fees, take-home, margin over cost.

    Nothing is stored. Arithmetic on what was entered, not tax or accounting advice.
    """
    asked = _asked(data, caller.shop.currency)
    async with caller.read_scope() as con:
        found = await quote_prices.quote_prices(con, caller.shop, asked, caller.today())
    return to_view(found, caller.shop.currency)


def _asked(data: NewPriceQuote, currency: str) -> quote_prices.Asked:
    if data.tag_code is not None and data.item_id is not None:
        raise field_error("Expected either tag_code or item_id", ())
    named = None
    if data.tag_code is not None or data.item_id is not None:
        named = Named(item_id=data.item_id, tag_code=data.tag_code)
    elif data.price is None:
        raise field_error("Expected a piece or a price", ())
    amounts = {
        name: None if text is None else minor(text, currency, (name,))
        for name in ("price", "cost", "floor", "wanted_take_home")
        for text in (getattr(data, name),)
    }
    return quote_prices.Asked(
        named=named,
        base_minor=amounts["price"],
        cost_minor=amounts["cost"],
        floor_minor=amounts["floor"],
        wanted_minor=amounts["wanted_take_home"],
        recover_over=data.expected_pieces,
    )


@get("/v1/channels/{channel_id:uuid}/price-rule", operation_id="readPriceRule", tags=["channels"])
async def read_price_rule(channel_id: FromPath[UUID], caller: NamedDependency[Caller]) -> PriceRule:
    """Read how a channel's prices follow; the item's own price where no rule was set."""
    async with caller.read_scope() as con:
        rule = await price_terms.read_rule(con, caller.shop.shop_id, channel_id)
    return show_rule(rule, caller.shop.currency)


@put("/v1/channels/{channel_id:uuid}/price-rule", operation_id="putPriceRule", tags=["channels"])
async def put_price_rule(
    channel_id: FromPath[UUID], data: JSONBody[PriceRule], caller: NamedDependency[Caller]
) -> PriceRule:
    """Say how a channel's prices follow from an item's own price or from another channel's."""
    rule = read_rule(data, caller.shop.currency)
    async with caller.scope() as con:
        await price_terms.put_rule(con, caller.shop, channel_id, rule, caller.today())
    return show_rule(rule, caller.shop.currency)


@delete(
    "/v1/channels/{channel_id:uuid}/price-rule",
    operation_id="removePriceRule",
    tags=["channels"],
)
async def remove_price_rule(channel_id: FromPath[UUID], caller: NamedDependency[Caller]) -> None:
    """Take a channel's rule back: its price is the item's own."""
    async with caller.scope() as con:
        await price_terms.put_rule(con, caller.shop, channel_id, None, caller.today())


@get("/v1/shop/price-points", operation_id="readPricePoints", tags=["shop"])
async def read_price_points(caller: NamedDependency[Caller]) -> PricePoints:
    """Read the prices the shop likes to ask; any price where nothing was set."""
    return show_points(price_terms.points_of(caller.shop), caller.shop.currency)


@put("/v1/shop/price-points", operation_id="putPricePoints", tags=["shop"])
async def put_price_points(
    data: JSONBody[PricePoints], caller: NamedDependency[Caller]
) -> PricePoints:
    """Say which prices the shop likes to ask."""
    points = read_points(data, caller.shop.currency)
    values = {"price_points": msgspec.to_builtins(points)}
    async with caller.scope() as con:
        await change_shop(con, caller.shop.shop_id, values, ANY, today=caller.today())
    return show_points(points, caller.shop.currency)


@post(
    "/v1/events/{event_id:uuid}/rail-prices",
    operation_id="priceRail",
    tags=["events"],
    status_code=200,
)
async def price_rail(
    event_id: FromPath[UUID],
    data: JSONBody[NewRailPrices],
    caller: NamedDependency[Caller],
    once: NamedDependency[Once],
    preview: Annotated[bool, QueryParameter(description="Only show what would change")] = False,
) -> Response[RailPrices]:
    """Give every piece of the rail its price by a rule, never under the piece's floor."""
    currency = caller.shop.currency
    rule = None if data.rule is None else read_rule(data.rule, currency, ("rule",))

    async def do(con: Connection) -> Response[RailPrices]:
        found = await reprice_rail.reprice_rail(
            con, caller.shop, event_id, rule, caller.today(), preview=preview
        )
        return Response(to_view(found, currency), status_code=200)

    return await once(do)


ROUTES = (
    quote,
    read_price_rule,
    put_price_rule,
    remove_price_rule,
    read_price_points,
    put_price_points,
    price_rail,
)
