"""Things a test needs, made over HTTP; a test names only what matters to it."""

from __future__ import annotations

from typing import Any

from tests.api_client import Client

DAY = "2026-05-09"
NEXT_DAY = "2026-05-10"


async def a_channel(api: Client, name: str = "Harbour stall", kind: str = "stall") -> Any:  # noqa: ANN401
    return await api.post("/v1/channels", {"name": name, "kind": kind})


async def an_item(api: Client, title: str = "Navy wool coat", **fields: object) -> Any:  # noqa: ANN401
    return await api.post("/v1/items", {"title": title, "price": "40.00", **fields})


async def an_event(api: Client, channel: Any = None, **fields: object) -> Any:  # noqa: ANN401
    channel = channel or await a_channel(api)
    body = {
        "channel_id": channel["id"],
        "name": "Harbour fair",
        "starts_on": DAY,
        "ends_on": NEXT_DAY,
        **fields,
    }
    return await api.post("/v1/events", body)


async def a_sale(api: Client, event: Any, *lines: object, **fields: object) -> Any:  # noqa: ANN401
    """Ring a sale up at the stall."""
    body = {"event_id": event["id"], "method": "cash", "lines": list(lines), **fields}
    return await api.post("/v1/sales", {"sold_at": f"{DAY}T10:00:00+01:00", **body})


def line(item: Any = None, price: str = "40.00", **fields: object) -> dict[str, object]:  # noqa: ANN401
    """One line of a sale: of an item, or of an untagged piece."""
    named = {"tag_code": item["tag_code"]} if item else {}
    return {"price": price, **named, **fields}
