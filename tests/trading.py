"""Shops that have traded, made over HTTP: events that are over, and sales on other channels."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tests.api_client import Client
from tests.factories import a_channel, an_event, an_item, line

FEES = {"parts": [{"name": "card fee", "kind": "payment", "percent": "2.5"}]}
COMMISSION = {"parts": [{"name": "commission", "percent": "10", "fixed": "0.50"}]}


async def a_stall(api: Client) -> Any:  # noqa: ANN401 - JSON
    """A stall with a card fee of 2.5 per cent."""
    stall = await a_channel(api)
    await api.put(f"/v1/channels/{stall['id']}/fees/2020-01-01", FEES)
    return stall


async def an_online_channel(api: Client, name: str = "Tidelist") -> Any:  # noqa: ANN401 - JSON
    """An online channel that keeps 10 per cent and 0.50."""
    channel = await a_channel(api, name, "online")
    await api.put(f"/v1/channels/{channel['id']}/fees/2020-01-01", COMMISSION)
    return channel


async def a_past_event(
    api: Client,
    stall: Any,  # noqa: ANN401 - JSON
    day: str,
    prices: Sequence[str],
    *,
    taken: int | None = None,
    pitch_fee: str = "40.00",
    cost: str = "10.00",
    category: str = "coats",
    **fields: object,
) -> Any:  # noqa: ANN401 - JSON
    """A one-day event, closed, with a cash sale for each price; *taken* pieces on its rail."""
    event = await an_event(
        api,
        stall,
        starts_on=day,
        ends_on=day,
        days=[
            {"day": day, "pitch_fee": pitch_fee, "opens_at": "10:00:00", "closes_at": "18:00:00"}
        ],
        **fields,
    )
    asked = [*prices, *["40.00"] * ((taken or len(prices)) - len(prices))]
    items = [
        await an_item(api, price=price, cost=cost, category=category, acquired_on="2025-01-01")
        for price in asked
    ]
    rail = {"pieces": [{"item_id": item["id"]} for item in items]}
    await api.put(f"/v1/events/{event['id']}/rail", rail)
    for item, price in zip(items, prices, strict=False):
        await a_cash_sale(api, event, item, price, day)
    await api.patch(f"/v1/events/{event['id']}", {"state": "closed"})
    return event


async def a_cash_sale(api: Client, event: Any, item: Any, price: str, day: str) -> Any:  # noqa: ANN401
    """A piece sold for cash at an event."""
    body = {"event_id": event["id"], "method": "cash", "lines": [line(item, price)]}
    return await api.post("/v1/sales", {**body, "sold_at": f"{day}T11:00:00+01:00"})


async def sold_online(
    api: Client,
    channel: Any,  # noqa: ANN401 - JSON
    price: str,
    *,
    listed_on: str,
    sold_on: str,
    cost: str = "10.00",
    category: str = "coats",
) -> Any:  # noqa: ANN401 - JSON
    """A piece listed and sold on a channel; its payment is a transfer."""
    item = await an_item(api, price=price, cost=cost, category=category)
    await offered_online(api, channel, item, listed_on)
    body = {"channel_id": channel["id"], "method": "transfer", "lines": [line(item, price)]}
    return await api.post("/v1/sales", {**body, "sold_at": f"{sold_on}T11:00:00+01:00"})


async def offered_online(api: Client, channel: Any, item: Any, listed_on: str) -> Any:  # noqa: ANN401
    """A listing of a piece."""
    return await api.post(
        "/v1/listings",
        {
            "channel_id": channel["id"],
            "item_id": item["id"],
            "reference": f"R-{item['tag_code']}",
            "price": item["price"],
            "listed_on": listed_on,
        },
    )
