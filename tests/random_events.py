"""Seeded random events written straight into the tables, for checks of results and years."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from random import Random
from typing import Any
from uuid import UUID

import msgspec

from stallkeep.domain.cost_split import SplitBy
from stallkeep.domain.trips import NewTrip
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id
from stallkeep.store.shops import Shop, find_shop
from stallkeep.work.costs import add_cost
from stallkeep.work.split_cost import EventShare, NewSplit

FIRST = dt.date(2026, 5, 9)
FEES = {"parts": [{"name": "card fee", "kind": "payment", "rate_ppm": 25_000}]}
TAX = [{"name": "VAT", "rate_ppm": 200_000}]


class RandomEvent(msgspec.Struct, frozen=True):
    """An event that was made: its shop and id."""

    shop: Shop
    event_id: UUID


async def add(con: Connection, table: str, **values: object) -> None:
    """Write one row."""
    names = ", ".join(f'"{name}"' for name in values)
    places = ", ".join(f"${n}" for n in range(1, len(values) + 1))
    query = f'insert into "{table}" ({names}) values ({places})'  # noqa: S608 - own names
    await con.execute(query, *values.values())


async def make_random_event(pool: Pool, seed: int) -> RandomEvent:
    """Make a shop with one event of which every payment is settled and every cost is known.

    Cards and cash, fees told and not, tips, taxes told and not, refunds whole and in part, money
    set aside, pieces under a margin scheme and given back, a float counted or not, every kind of
    cost; sometimes a count of the rail that misses a piece.
    """
    rng = Random(seed)  # noqa: S311 - chance for a test
    shop_id, channel, event = new_id(), new_id(), new_id()
    days = [FIRST + dt.timedelta(days=n) for n in range(rng.randint(1, 3))]
    async with scope(pool, shop_id) as con:
        per = rng.choice(["line", "receipt"])
        registered: dict[str, object] = {
            "tax_mode": "included",
            "tax_rates": TAX,
            "tax_round_per": per,
        }
        tax: dict[str, object] = registered if rng.random() < 0.5 else {}
        if rng.random() < 0.5:  # terms of before the event must not matter
            before = {"tax_mode": "added", "tax_rates": [{"name": "City", "rate_ppm": 80_000}]}
            other = {**before, "tax_round_per": "line", "tax_parts_apart": True}
            earlier = {**other, "reclaims_tax": rng.random() < 0.5, "tax_from": None}
            tax |= {
                "tax_from": days[0] - dt.timedelta(rng.choice([0, 90])),
                "tax_before": [earlier],
            }
        zone = {"name": "Quay", "currency": "EUR", "time_zone": "Europe/Berlin"}
        await add(con, "shop", shop_id=shop_id, **zone, **tax)
        of_shop = {"shop_id": shop_id}
        await add(con, "channel", **of_shop, id=channel, name="Stall", kind="stall")
        since = dt.date(2026, 1, 1)
        await add(con, "fee_schedule", **of_shop, channel_id=channel, valid_from=since, terms=FEES)
        await add(
            con,
            "event",
            **of_shop,
            id=event,
            channel_id=channel,
            name="Quay fair",
            starts_on=days[0],
            ends_on=days[-1],
            state="closed",
            pitch_fee_minor=rng.choice([0, 3333]),
        )
        for day in days:
            await _add_day(con, rng, {**of_shop, "event_id": event, "day": day})
        for _ in range(rng.randint(0, 4)):
            await _add_cost(con, rng, of_shop, event, days)
        place = {**of_shop, "channel_id": channel, "event_id": event}
        rail = [await _add_item(con, rng, of_shop, event) for _ in range(rng.randint(0, 12))]
        for item in list(rail):
            if item in rail and rng.random() < 0.6:
                sold = [item, *rng.sample([i for i in rail if i != item], min(len(rail) - 1, 1))]
                sold = sold if rng.random() < 0.3 else [item]
                await _add_sale(con, rng, place, sold, rng.choice(days))
                rail = [one for one in rail if one not in sold]
        for _ in range(rng.randint(0, 3)):
            await _add_refund(con, rng, place, rng.choice(days))
        if rng.random() < 0.5:
            await _add_aside(con, rng, place, rng.choice(days))
        if rng.random() < 0.5:
            await _count(con, rng, event, of_shop, rail)
        reclaims = rng.random() < 0.5
        await con.execute("update shop set reclaims_tax = $1", reclaims)
        shop = await find_shop(con, shop_id)
        assert shop is not None
        await _add_trips_and_shared_costs(con, rng, shop, event)
    return RandomEvent(shop, event)


async def _add_trips_and_shared_costs(
    con: Connection, rng: Random, shop: Shop, event: UUID
) -> None:
    """Costs given as a distance, and costs that another event bears a part of."""
    other = new_id()
    await con.execute(
        "insert into event (shop_id, id, channel_id, name, starts_on, ends_on) "
        "select shop_id, $1, channel_id, 'Other fair', '2026-06-01', '2026-06-02' from event",
        other,
    )
    for _ in range(rng.randint(0, 2)):
        trip = NewTrip(
            distance_tenths=rng.randint(1, 9999),
            unit="km",
            rate_thousandths=rng.randint(1, 99_999),
            rate_source="the shop",
            rate_from=dt.date(2026, 1, 1),
        )
        is_shared = rng.random() < 0.5
        place = {"split": _split(rng, event, other)} if is_shared else {"event_id": event}
        await add_cost(con, shop, {"kind": "travel", "trip": trip, **place})
    for _ in range(rng.randint(0, 2)):
        values = {"kind": "lodging", "amount_minor": rng.randint(-50, 9000), "tax_minor": 7}
        await add_cost(con, shop, {**values, "split": _split(rng, event, other)})


def _split(rng: Random, event: UUID, other: UUID) -> NewSplit:
    by: SplitBy = rng.choice(["equal", "days", "shares"])
    ids = [event, other] if rng.random() < 0.5 else [other, event]
    return NewSplit(
        by=by,
        events=[
            EventShare(event_id=one, share=rng.randint(1, 5) if by == "shares" else None)
            for one in ids
        ],
    )


async def _add_day(con: Connection, rng: Random, keys: Mapping[str, Any]) -> None:
    counted = rng.random() < 0.6
    await add(
        con,
        "event_day",
        **keys,
        pitch_fee_minor=rng.choice([0, 4000, 12_500]),
        float_minor=5000 if counted or rng.random() < 0.5 else None,
        counted_cash_minor=rng.randint(0, 30_000) if counted else None,
        taken_out_minor=rng.choice([0, 0, 1500]),
        every_cash_sale_noted=rng.random() < 0.5,
    )


async def _add_cost(
    con: Connection, rng: Random, of_shop: Mapping[str, Any], event: UUID, days: Sequence[dt.date]
) -> None:
    await add(
        con,
        "cost",
        **of_shop,
        id=new_id(),
        event_id=event,
        kind=rng.choice(["travel", "food", "helpers", "other", "pitch_fee"]),
        amount_minor=rng.randint(100, 9000),
        tax_minor=rng.choice([None, 77]),
        spent_on=rng.choice([None, *days]),
    )


async def _add_item(con: Connection, rng: Random, of_shop: Mapping[str, Any], event: UUID) -> UUID:
    item, cost = new_id(), rng.randint(100, 3000)
    await add(
        con,
        "item",
        **of_shop,
        id=item,
        tag_code=str(item)[-12:],
        title="Piece",
        category=rng.choice([None, "coats", "ceramics"]),
        price_minor=cost + rng.randint(100, 5000),
        cost_minor=cost,
        margin_scheme=rng.random() < 0.2,
    )
    await add(con, "rail", **of_shop, event_id=event, item_id=item)
    return item


async def _add_sale(
    con: Connection, rng: Random, place: Mapping[str, Any], items: Sequence[UUID], day: dt.date
) -> None:
    """A payment matched to a sale of pieces."""
    prices = [rng.randint(100, 8000) for _ in items]
    tip = rng.choice([0, 0, 150])
    amount = sum(prices) + tip
    part_back = rng.randint(1, amount) if rng.random() < 0.15 else None
    payment = await _add_money(
        con,
        rng,
        place,
        day,
        kind="payment",
        amount_minor=amount,
        tip_minor=tip or None,
        match_state="matched",
        refunded_minor=part_back,
    )
    sale = new_id()
    head = {"origin": "match", "total_minor": amount, "sold_on": day, "transaction_id": payment}
    await add(con, "sale", **place, id=sale, **head)
    for number, (item, price) in enumerate(zip(items, prices, strict=True), 1):
        cost = await con.fetchval("select cost_minor from item where id = $1", item)
        await add(
            con,
            "sale_line",
            shop_id=place["shop_id"],
            sale_id=sale,
            line_no=number,
            item_id=item,
            price_minor=price,
            cost_minor=cost,
            state=rng.choice(["sold", "sold", "sold", "returned"]),
        )


async def _add_refund(con: Connection, rng: Random, place: Mapping[str, Any], day: dt.date) -> None:
    await _add_money(
        con,
        rng,
        place,
        day,
        kind="refund",
        amount_minor=-rng.randint(1, 4000),
        match_state="not_needed",
    )


async def _add_aside(con: Connection, rng: Random, place: Mapping[str, Any], day: dt.date) -> None:
    """A payment that a person set aside as no earning."""
    payment = await _add_money(
        con, rng, place, day, kind="payment", amount_minor=100, match_state="set_aside"
    )
    said = {"kind": "set_aside", "is_income": False, "said_by": "owner"}
    keys = {"shop_id": place["shop_id"], "id": new_id(), "transaction_id": payment}
    await add(con, "ruling", **keys, **said)


async def _add_money(
    con: Connection, rng: Random, place: Mapping[str, Any], day: dt.date, **values: object
) -> UUID:
    transaction, amount = new_id(), int(str(values["amount_minor"]))
    sign = -1 if amount < 0 else 1
    told_fee = rng.random() < 0.5
    told_tax = rng.random() < 0.3
    await add(
        con,
        "transaction",
        **place,
        id=transaction,
        row_key=str(transaction),
        content_key=transaction,
        currency="EUR",
        occurred_on=day,
        ordered_at=dt.datetime.combine(day, dt.time(10), dt.UTC),
        method=rng.choice(["card", "card", "cash"]),
        fee_minor=sign * rng.randint(0, 90) if told_fee else None,
        tax_minor=amount // 6 if told_tax else None,
        **values,
    )
    return transaction


async def _count(
    con: Connection, rng: Random, event: UUID, of_shop: Mapping[str, Any], left: Sequence[UUID]
) -> None:
    """Count the rail: what was sold is not home, and of the rest one may be missing."""
    home = [item for item in left if rng.random() < 0.8]
    await con.execute(
        "update rail r set counted_home = case when r.item_id = any($3::uuid[]) "
        "or exists (select from sale_line l where l.item_id = r.item_id and l.state = 'returned') "
        "then 1 else 0 end where shop_id = $1 and event_id = $2",
        of_shop["shop_id"],
        event,
        home,
    )
