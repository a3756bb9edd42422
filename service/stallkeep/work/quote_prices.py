"""Price an item on every channel and coming event, side by side."""

from __future__ import annotations

import datetime as dt

import msgspec

from stallkeep.domain.cautions import CAUTION
from stallkeep.domain.errors import PriceRuleError
from stallkeep.domain.fees import TakeHome, lowest_price, take_home
from stallkeep.domain.prices import PricedItem, PriceQuote, quotes
from stallkeep.store.connection import Connection
from stallkeep.store.items import Item
from stallkeep.store.shops import Shop
from stallkeep.work.price_terms import all_terms, points_of
from stallkeep.work.references import Named, match_items
from stallkeep.work.shop_tax import tax_of
from stallkeep.work.stock_errors import UnknownReferenceError


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """What is to be priced: a piece in stock, or one not entered yet; amounts override its own.

    Attributes:
        named: The piece; None for one that is not in stock.
        base_minor: Its base price.
        cost_minor: What it cost.
        floor_minor: Never to be sold under this.
        wanted_minor: Take-home for which the lowest price is asked too.
        recover_over: Pieces over which an event's pitch fee is to be earned back.
    """

    named: Named | None = None
    base_minor: int | None = None
    cost_minor: int | None = None
    floor_minor: int | None = None
    wanted_minor: int | None = None
    recover_over: int | None = None


class WantedPrice(msgspec.Struct, frozen=True, kw_only=True):
    """The lowest price on a channel or event that leaves the wanted take-home."""

    channel_id: str
    channel: str
    price_minor: int
    take_home: TakeHome


class PriceQuotes(msgspec.Struct, frozen=True, kw_only=True):
    """An item's prices side by side: channels by name, then coming events by date.

    Attributes:
        currency: ISO 4217 code of every amount.
        tag_code: Of the piece; None for one not in stock.
        base_minor: Price the rules start from.
        cost_minor: What it cost; None when not known.
        quotes: By rule.
        wanted: For a wanted take-home; empty when none was asked for.
        caution: To be shown wherever these figures are.
    """

    currency: str
    tag_code: str | None
    base_minor: int
    cost_minor: int | None
    quotes: tuple[PriceQuote, ...]
    wanted: tuple[WantedPrice, ...]
    caution: str = CAUTION


async def quote_prices(con: Connection, shop: Shop, asked: Asked, today: dt.date) -> PriceQuotes:
    """Price an item on every channel and coming event.

    Raises:
        UnknownReferenceError: The shop has no such piece.
        PriceRuleError: It has no price to start from, or the rules go in a circle.
        PriceOutOfReachError: No price brings the wanted take-home.
    """
    found = await _item(con, shop, asked)
    base = asked.base_minor
    if base is None:
        base = None if found is None else found.price_minor
    if base is None:
        raise PriceRuleError("The piece has no price of its own; give one to start from")
    item = PricedItem(
        id="" if found is None else str(found.id),
        base_minor=base,
        cost_minor=_first(asked.cost_minor, None if found is None else found.cost_minor),
        floor_minor=_first(asked.floor_minor, None if found is None else found.floor_minor),
    )
    terms = await all_terms(con, shop, today, asked.recover_over)
    wanted = []
    for one in terms if asked.wanted_minor is not None else ():
        price = lowest_price(one.fees, asked.wanted_minor or 0)
        left = take_home(one.fees, price)
        wanted.append(
            WantedPrice(channel_id=one.id, channel=one.name, price_minor=price, take_home=left)
        )
    return PriceQuotes(
        currency=shop.currency,
        tag_code=None if found is None else found.tag_code,
        base_minor=base,
        cost_minor=item.cost_minor,
        quotes=quotes(item, terms, points_of(shop), tax_of(shop, today)),
        wanted=tuple(wanted),
    )


async def _item(con: Connection, shop: Shop, asked: Asked) -> Item | None:
    if asked.named is None:
        return None
    [found] = await match_items(con, shop.shop_id, [asked.named])
    if found is None:
        name = asked.named.tag_code or asked.named.item_id
        raise UnknownReferenceError(f"The shop has no piece {name}", "#")
    return found


def _first(given: int | None, stored: int | None) -> int | None:
    return stored if given is None else given
