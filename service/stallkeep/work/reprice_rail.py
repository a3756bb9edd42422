"""Price a whole rail by a rule, or see first what would change."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

import msgspec

from stallkeep.domain.prices import PriceChange, PricedItem, PriceRule, price_changes
from stallkeep.store import events
from stallkeep.store import price_facts as store
from stallkeep.store.connection import Connection
from stallkeep.store.shops import Shop
from stallkeep.work.event_errors import EventNotFoundError
from stallkeep.work.price_terms import points_of, terms_of
from stallkeep.work.references import need_channel


class RailPriceChange(msgspec.Struct, frozen=True, kw_only=True):
    """A piece of the rail: its price there now and by the rule."""

    item_id: str
    tag_code: str
    title: str
    old_minor: int | None
    new_minor: int
    change_minor: int | None


class RailPrices(msgspec.Struct, frozen=True, kw_only=True):
    """What a rule makes of a rail's prices.

    Attributes:
        currency: ISO 4217 code of every amount.
        is_preview: True when nothing was changed.
        changes: Pieces whose price changes, by tag code.
        unchanged: Pieces whose price stays.
        without_price: Tag codes of pieces that have no base price and were left alone.
    """

    currency: str
    is_preview: bool
    changes: tuple[RailPriceChange, ...]
    unchanged: int
    without_price: tuple[str, ...]


async def reprice_rail(
    con: Connection,
    shop: Shop,
    event_id: UUID,
    rule: PriceRule | None,
    today: dt.date,
    *,
    preview: bool,
) -> RailPrices:
    """Give every piece of a rail its price by *rule*, None being the rule of the event's channel.

    Raises:
        EventNotFoundError: The shop has no such event.
        UnknownReferenceError: The rule follows a channel that is none of the shop's.
        PriceRuleError: The rules go in a circle.
    """
    shop_id = shop.shop_id
    if not preview:
        await events.lock_event(con, shop_id, event_id)
    row = await store.event_terms(con, shop_id, event_id)
    if row is None:
        raise EventNotFoundError(f"There is no event {event_id}")
    if rule is not None and rule.of is not None:
        await need_channel(con, shop_id, UUID(rule.of), "#/rule/of")
    if rule is not None:
        row = msgspec.structs.replace(row, rule=msgspec.to_builtins(rule))
    terms = terms_of(row)
    rows = await store.rail_to_price(con, shop_id, event_id)
    others = [terms_of(one) for one in await store.channels_on(con, shop_id, today)]
    priced = {str(one.item_id): one for one in rows if one.price_minor is not None}
    found = price_changes(
        [(_item(one), _now(one)) for one in priced.values()], terms, others, points_of(shop)
    )
    changed = [one for one in found if one.old_minor != one.new_minor]
    if changed and not preview:
        prices = {UUID(one.item_id): one.new_minor for one in changed}
        await store.set_rail_prices(con, shop_id, event_id, prices)
    return RailPrices(
        currency=shop.currency,
        is_preview=preview,
        changes=tuple(_shown(one, priced[one.item_id]) for one in changed),
        unchanged=len(found) - len(changed),
        without_price=tuple(one.tag_code for one in rows if one.price_minor is None),
    )


def _item(row: store.RailRow) -> PricedItem:
    return PricedItem(
        id=str(row.item_id),
        base_minor=row.price_minor or 0,
        cost_minor=row.cost_minor,
        floor_minor=row.floor_minor,
    )


def _now(row: store.RailRow) -> int | None:
    return row.price_minor if row.rail_price_minor is None else row.rail_price_minor


def _shown(change: PriceChange, row: store.RailRow) -> RailPriceChange:
    return RailPriceChange(
        item_id=change.item_id,
        tag_code=row.tag_code,
        title=row.title,
        old_minor=change.old_minor,
        new_minor=change.new_minor,
        change_minor=change.change_minor,
    )
