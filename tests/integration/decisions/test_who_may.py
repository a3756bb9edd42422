"""Decisions are the owner's: a helper's token opens none of these routes."""

from __future__ import annotations

from tests.api_client import Client
from tests.factories import an_event


async def test_a_helper_sees_no_decisions(api: Client) -> None:
    event = await an_event(api)
    made = await api.post("/v1/tokens", {"name": "Saturday", "role": "helper"})
    helper = api.with_token(made["text"])
    path = f"/v1/events/{event['id']}"
    channel = f"/v1/channels/{event['channel_id']}"
    routes: list[tuple[str, str, object]] = [
        ("GET", f"{path}/comparison", None),
        ("POST", f"{path}/what-ifs", {"helpers_saved": "1.00"}),
        ("POST", f"{path}/rail-prices", {}),
        ("POST", "/v1/forecasts", {"event_id": event["id"]}),
        ("POST", "/v1/rail-suggestions", {"event_id": event["id"], "size": 5}),
        ("POST", "/v1/price-quotes", {"price": "40.00"}),
        ("GET", f"{channel}/price-rule", None),
        ("PUT", f"{channel}/price-rule", {}),
        ("DELETE", f"{channel}/price-rule", None),
        ("GET", "/v1/shop/price-points", None),
        ("PUT", "/v1/shop/price-points", {"step": "1.00"}),
        ("GET", "/v1/years/2026", None),
        ("GET", "/v1/costs", None),
        ("GET", "/v1/mileage-rates", None),
        ("GET", f"/v1/items/{event['id']}/batches", None),
        ("POST", f"/v1/items/{event['id']}/batches", {"quantity": 1, "cost": "1.00"}),
        ("GET", "/v1/exports/items.csv", None),
    ]
    async with helper.http:
        for method, address, body in routes:
            answer = await helper.ask(method, address, body)
            assert answer.status_code == 403, (method, address, answer.text)
