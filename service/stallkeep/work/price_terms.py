"""The terms prices are made by: rules of channels and events, the shop's price points."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from uuid import UUID

import msgspec

from stallkeep.domain.fees import FeeSchedule
from stallkeep.domain.price_points import PricePoints
from stallkeep.domain.prices import ChannelTerms, PitchRecovery, PricedItem, PriceRule, quotes
from stallkeep.domain.tax import TaxSettings
from stallkeep.store import price_facts as store
from stallkeep.store.connection import Connection
from stallkeep.store.shops import Shop
from stallkeep.work.channels import read_channel
from stallkeep.work.references import need_channel

MOST_EVENTS = 20
_SAMPLE = PricedItem(id="sample", base_minor=4000)


def points_of(shop: Shop) -> PricePoints:
    """Read the shop's price points; any price where none were set."""
    return (
        PricePoints()
        if shop.price_points is None
        else msgspec.convert(shop.price_points, PricePoints)
    )


def terms_of(row: store.PricingRow, recover_over: int | None = None) -> ChannelTerms:
    """Make the terms of a channel or an event.

    Args:
        row: As the store gives it.
        recover_over: Pieces over which an event's pitch fee is to be earned back. None does so
            only where the channel's rule says so; the fee is the event's own either way.
    """
    rule = PriceRule() if row.rule is None else msgspec.convert(row.rule, PriceRule)
    if row.pitch_fee_minor is not None:
        pieces = recover_over or (rule.recovers.expected_pieces if rule.recovers else None)
        recovers = pieces and PitchRecovery(
            pitch_fee_minor=row.pitch_fee_minor, expected_pieces=pieces
        )
        rule = msgspec.structs.replace(rule, recovers=recovers or None)
    fees = FeeSchedule() if row.fee_terms is None else msgspec.convert(row.fee_terms, FeeSchedule)
    return ChannelTerms(id=str(row.id), name=row.name, rule=rule, fees=fees)


async def all_terms(
    con: Connection, shop: Shop, today: dt.date, recover_over: int | None = None
) -> list[ChannelTerms]:
    """Read the terms of every channel, then those of the next events that are not over."""
    channels = await store.channels_on(con, shop.shop_id, today)
    events = await store.coming_events(con, shop.shop_id, today, MOST_EVENTS)
    return [terms_of(row, recover_over) for row in (*channels, *events)]


async def read_rule(con: Connection, shop_id: UUID, channel_id: UUID) -> PriceRule:
    """Read the price rule of a channel; the item's own price where none was set.

    Raises:
        ChannelNotFoundError: The shop has no such channel.
    """
    await read_channel(con, shop_id, channel_id)
    rule = await store.price_rule(con, shop_id, channel_id)
    return PriceRule() if rule is None else msgspec.convert(rule, PriceRule)


async def put_rule(
    con: Connection, shop: Shop, channel_id: UUID, rule: PriceRule | None, today: dt.date
) -> None:
    """Say how a channel's prices follow; None takes the rule back.

    Raises:
        ChannelNotFoundError: The shop has no such channel.
        UnknownReferenceError: The rule follows a channel that is none of the shop's.
        PriceRuleError: Rules would go in a circle.
    """
    await read_channel(con, shop.shop_id, channel_id)
    if rule is not None and rule.of is not None:
        await need_channel(con, shop.shop_id, UUID(rule.of), "#/of")
    plain = None if rule is None else msgspec.to_builtins(rule)
    await store.put_price_rule(con, shop.shop_id, channel_id, plain)
    _try_out(await all_terms(con, shop, today), points_of(shop))


def _try_out(terms: Sequence[ChannelTerms], points: PricePoints) -> None:
    """Price a piece by every rule, so that a circle is refused when it is made."""
    quotes(_SAMPLE, terms, points, TaxSettings())
