"""Suggest what to take to an event: stock ranked by chance to sell, margin and time held."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from uuid import UUID

import msgspec

from stallkeep.domain.cautions import CAUTION
from stallkeep.domain.fees import take_home
from stallkeep.domain.prices import PricedItem, price_changes
from stallkeep.domain.rail_choice import Candidate, LeftOut, choose_rail
from stallkeep.domain.sell_through import default_bands
from stallkeep.domain.tax import tax_in_price
from stallkeep.store import price_facts, stock_facts
from stallkeep.store.connection import Connection, Row
from stallkeep.store.events import Event
from stallkeep.store.shops import Shop
from stallkeep.work.past_events import past_events, past_pieces
from stallkeep.work.price_terms import points_of, terms_of
from stallkeep.work.references import need_event
from stallkeep.work.shop_tax import tax_of

MOST_STOCK = 20_000


class RailWish(msgspec.Struct, frozen=True, kw_only=True):
    """What is asked.

    Attributes:
        event_id: The coming event.
        size: Pieces the rail holds, at least 1.
        include_reserved: Whether to take pieces reserved for an online date as well.
    """

    event_id: UUID
    size: int
    include_reserved: bool = False


class Suggested(msgspec.Struct, frozen=True, kw_only=True):
    """A piece to take, and why.

    Attributes:
        rank: From 1.
        item_id: The item.
        tag_code: On its tag.
        title: Of the piece.
        quantity: How many of it.
        price_minor: Price it would have at the event.
        chance: That one of it sells there.
        expected_minor: chance x margin of one.
        sentence: Why.
    """

    rank: int
    item_id: str
    tag_code: str
    title: str
    quantity: int
    price_minor: int
    chance: float
    expected_minor: int
    sentence: str


class RailSuggestion(msgspec.Struct, frozen=True, kw_only=True):
    """A suggested rail, best piece first; the seller has the last word.

    Attributes:
        currency: ISO 4217 code of every amount.
        pieces: What to take.
        left_out: Pieces not taken and why, `MOST_LEFT_OUT` at most, in order of their ids.
        left_out_count: All of them.
        expected_pieces: Pieces expected to sell.
        expected_minor: What they leave over their cost.
        limits: How little the ranking rests on, where that is so.
        caution: To be shown wherever these figures are.
    """

    currency: str
    pieces: tuple[Suggested, ...]
    left_out: tuple[LeftOut, ...]
    left_out_count: int
    expected_pieces: float
    expected_minor: int
    limits: tuple[str, ...]
    caution: str = CAUTION


MOST_LEFT_OUT = 200


async def suggest_rail(
    con: Connection, shop: Shop, wish: RailWish, today: dt.date
) -> RailSuggestion:
    """Rank the stock for a rail.

    Raises:
        UnknownReferenceError: The shop has no such event.
        PriceRuleError: The price rules go in a circle.
    """
    event = await need_event(con, shop.shop_id, wish.event_id)
    past = await past_events(con, shop, today, but=wish.event_id)
    ids = [one.id for one in past]
    held = await stock_facts.held_when_taken(con, shop.shop_id, ids)
    rows = await stock_facts.stock(con, shop.shop_id, ids, MOST_STOCK)
    prices = await _prices(con, shop, event, rows, today)
    bands = default_bands(shop.currency)
    plan = choose_rail(
        [_candidate(row, prices, event.starts_on) for row in rows],
        past_pieces(past, held, bands),
        size=wish.size,
        on=event.starts_on,
        currency=shop.currency,
        band_starts_minor=bands,
        include_reserved=wish.include_reserved,
    )
    by_id = {str(row["id"]): row for row in rows}
    return RailSuggestion(
        currency=shop.currency,
        pieces=tuple(
            Suggested(
                rank=choice.rank,
                item_id=choice.item_id,
                tag_code=by_id[choice.item_id]["tag_code"],
                title=by_id[choice.item_id]["title"],
                quantity=choice.quantity,
                price_minor=prices[choice.item_id][0],
                chance=choice.chance,
                expected_minor=choice.expected_minor,
                sentence=choice.sentence,
            )
            for choice in plan.choices
        ),
        left_out=plan.left_out[:MOST_LEFT_OUT],
        left_out_count=len(plan.left_out),
        expected_pieces=plan.expected_pieces,
        expected_minor=plan.expected_minor,
        limits=plan.limits,
    )


async def _prices(
    con: Connection, shop: Shop, event: Event, rows: Sequence[Row], today: dt.date
) -> dict[str, tuple[int, int]]:
    """Price what has a base price by the event's rule: the price, and what is left of it."""
    found = await price_facts.event_terms(con, shop.shop_id, event.id)
    others = await price_facts.channels_on(con, shop.shop_id, today)
    if found is None:
        return {}
    terms = terms_of(found)
    items = [
        PricedItem(id=str(row["id"]), base_minor=row["price_minor"], floor_minor=row["floor_minor"])
        for row in rows
        if row["price_minor"] is not None
    ]
    changes = price_changes(
        [(item, None) for item in items], terms, [terms_of(one) for one in others], points_of(shop)
    )
    tax = tax_of(shop, event.starts_on)
    return {
        change.item_id: (
            change.new_minor,
            take_home(terms.fees, change.new_minor).take_home_minor
            - tax_in_price(change.new_minor, tax),
        )
        for change in changes
    }


def _candidate(row: Row, prices: Mapping[str, tuple[int, int]], on: dt.date) -> Candidate:
    price = prices.get(str(row["id"]))
    cost = row["cost_minor"]
    since: dt.date = row["acquired_on"] or row["created_at"].date()
    return Candidate(
        item_id=str(row["id"]),
        category=row["category"],
        price_minor=None if price is None else price[0],
        margin_minor=None if price is None or cost is None else price[1] - cost,
        days_held=max(0, (on - since).days),
        quantity=row["quantity"],
        reserved_until=row["reserved_until"],
    )
