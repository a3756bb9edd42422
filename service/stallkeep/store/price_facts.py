"""What prices are made from: rules and fees of channels and events, and the pieces of a rail."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any, Final
from uuid import UUID

import msgspec

from stallkeep.store.connection import Connection, Row


class PricingRow(msgspec.Struct, frozen=True, gc=False):
    """A channel, or an event with its channel's rule.

    `rule` is a PriceRule and `fee_terms` a FeeSchedule as JSON; `pitch_fee_minor` is all that
    the pitch costs, None for a channel.
    """

    id: UUID
    name: str
    rule: dict[str, Any] | None
    fee_terms: dict[str, Any] | None
    pitch_fee_minor: int | None


class RailRow(msgspec.Struct, frozen=True, gc=False):
    """A piece on a rail: its own price there, and what stands in stock."""

    item_id: UUID
    tag_code: str
    title: str
    rail_price_minor: int | None
    price_minor: int | None
    cost_minor: int | None
    floor_minor: int | None


_CHANNELS: Final = """
select c.id, c.name, c.price_rule,
       (select f.terms from fee_schedule f
         where f.shop_id = c.shop_id and f.channel_id = c.id and f.valid_from <= $2
         order by f.valid_from desc limit 1) as fee_terms,
       null::bigint as pitch_fee_minor
  from channel c where c.shop_id = $1 order by c.name
"""
_EVENTS: Final = """
select e.id, e.name, c.price_rule,
       (select f.terms from fee_schedule f
         where f.shop_id = e.shop_id and f.channel_id = e.channel_id
           and f.valid_from <= e.starts_on order by f.valid_from desc limit 1) as fee_terms,
       (e.pitch_fee_minor
        + coalesce((select sum(d.pitch_fee_minor) from event_day d
                     where d.shop_id = e.shop_id and d.event_id = e.id), 0)
        + coalesce((select sum(o.amount_minor) from cost o
                     where o.shop_id = e.shop_id and o.event_id = e.id
                       and o.kind = 'pitch_fee'), 0))::bigint as pitch_fee_minor
  from event e join channel c on c.shop_id = e.shop_id and c.id = e.channel_id
"""
_COMING: Final = (
    _EVENTS
    + " where e.shop_id = $1 and e.state <> 'closed' and e.ends_on >= $2"
    + " order by e.starts_on, e.id limit $3"
)
_EVENT: Final = _EVENTS + " where e.shop_id = $1 and e.id = $2"
_RAIL: Final = """
select i.id, i.tag_code, i.title, r.price_minor, i.price_minor, i.cost_minor, i.floor_minor
  from rail r join item i on i.shop_id = r.shop_id and i.id = r.item_id
 where r.shop_id = $1 and r.event_id = $2 order by i.tag_code
"""
_SET: Final = """
update rail set price_minor = given.price_minor
  from unnest($3::uuid[], $4::bigint[]) as given (item_id, price_minor)
 where shop_id = $1 and event_id = $2 and rail.item_id = given.item_id
"""
_RULE: Final = "select price_rule from channel where shop_id = $1 and id = $2"
_PUT_RULE: Final = """
update channel set price_rule = $3, version = version + 1 where shop_id = $1 and id = $2
"""


async def channels_on(con: Connection, shop_id: UUID, day: dt.date) -> list[PricingRow]:
    """Read every channel by name, with its fees of a day."""
    return [PricingRow(*row) for row in await con.fetch(_CHANNELS, shop_id, day)]


async def coming_events(
    con: Connection, shop_id: UUID, today: dt.date, most: int
) -> list[PricingRow]:
    """Read the next events that are not over, the earliest first."""
    return [PricingRow(*row) for row in await con.fetch(_COMING, shop_id, today, most)]


async def event_terms(con: Connection, shop_id: UUID, event_id: UUID) -> PricingRow | None:
    """Read one event's terms."""
    row: Row | None = await con.fetchrow(_EVENT, shop_id, event_id)
    return None if row is None else PricingRow(*row)


async def rail_to_price(con: Connection, shop_id: UUID, event_id: UUID) -> list[RailRow]:
    """Read a rail in the order of tag codes."""
    return [RailRow(*row) for row in await con.fetch(_RAIL, shop_id, event_id)]


async def set_rail_prices(
    con: Connection, shop_id: UUID, event_id: UUID, prices: Mapping[UUID, int]
) -> None:
    """Give pieces of a rail their own price there."""
    ids: Sequence[UUID] = list(prices)
    await con.execute(_SET, shop_id, event_id, ids, [prices[item_id] for item_id in ids])


async def price_rule(con: Connection, shop_id: UUID, channel_id: UUID) -> dict[str, Any] | None:
    """Read the rule of a channel; None without one."""
    rule: dict[str, Any] | None = await con.fetchval(_RULE, shop_id, channel_id)
    return rule


async def put_price_rule(
    con: Connection, shop_id: UUID, channel_id: UUID, rule: object | None
) -> None:
    """Write the rule of a channel, or none."""
    await con.execute(_PUT_RULE, shop_id, channel_id, rule)
