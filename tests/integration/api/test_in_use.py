"""What is in use, held online, or more than there is: refused, with what to do."""

from __future__ import annotations

import pytest
from tests.api_client import Client
from tests.factories import DAY, NEXT_DAY, a_channel, a_sale, an_event, an_item, line


async def test_what_is_traded_cannot_be_removed_and_the_answer_says_by_what_it_is_used(
    api: Client,
) -> None:
    coat, event = await an_item(api), await an_event(api)
    await a_sale(api, event, line(coat))
    for path, used_by in (
        (f"/v1/items/{coat['id']}", "sales"),
        (f"/v1/channels/{event['channel_id']}", "events"),
    ):
        answer = await api.ask("DELETE", path, If_Match="*")
        assert answer.status_code == 409
        assert f"{used_by} still refer to it" in answer.json()["detail"]


async def test_an_offered_piece_says_that_listings_use_it(api: Client) -> None:
    coat, online = await an_item(api), await a_channel(api, "Tidelist", "online")
    offer = {"channel_id": online["id"], "item_id": coat["id"], "reference": "L-1"}
    await api.post("/v1/listings", offer)
    answer = await api.ask("DELETE", f"/v1/items/{coat['id']}", If_Match="*")
    assert "listings still refer to it" in answer.json()["detail"]


async def test_an_event_is_not_held_on_an_online_channel(api: Client) -> None:
    online = await a_channel(api, "Tidelist", "online")
    body = {"channel_id": online["id"], "name": "X", "starts_on": DAY, "ends_on": DAY}
    answer = await api.ask("POST", "/v1/events", body)
    assert (answer.status_code, answer.json()["type"].rpartition("/")[2]) == (422, "no-stall")
    event = await an_event(api)
    path = f"/v1/events/{event['id']}"
    moved = await api.ask("PATCH", path, {"channel_id": online["id"]}, If_Match="*")
    assert moved.json()["errors"][0]["pointer"] == "#/channel_id"
    assert (await api.get(path))["channel_id"] == event["channel_id"]


async def test_a_day_with_figures_says_what_to_clear(api: Client) -> None:
    event = await an_event(api, days=[{"day": NEXT_DAY, "float": "50.00"}])
    answer = await api.ask("PATCH", f"/v1/events/{event['id']}", {"ends_on": DAY}, If_Match="*")
    assert answer.status_code == 409
    assert "clear its float" in answer.json()["detail"]


@pytest.mark.parametrize("quantity", [4, 40])
async def test_more_pieces_than_there_ever_were_are_no_contradiction(
    api: Client, quantity: int
) -> None:
    bowls, event = await an_item(api, "Stoneware bowl", quantity=3), await an_event(api)
    file = f"Date,Time,Transaction ID,Amount,Currency\n{DAY},10:12:00,p-1,180.00,EUR\n"
    await api.http.post(
        "/v1/imports",
        content=file.encode(),
        params={"channel": event["channel_id"]},
        headers={"Content-Type": "text/csv"},
    )
    [payment] = (await api.get("/v1/transactions"))["data"]
    pieces = {"pieces": [{"tag_code": bowls["tag_code"], "quantity": quantity}]}
    answer = await api.ask("PUT", f"/v1/transactions/{payment['id']}/match", pieces)
    assert answer.status_code == 422
    assert f"{quantity} of Stoneware bowl" in answer.json()["detail"]
    assert "the shop has 3" in answer.json()["detail"]
    assert (await api.get("/v1/conflicts"))["data"] == []
