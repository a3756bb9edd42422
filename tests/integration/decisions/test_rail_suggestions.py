"""What to take, over HTTP; the ranking itself is tested in tests/unit/domain."""

from __future__ import annotations

from typing import Any

from tests.api_client import Client
from tests.factories import an_event, an_item
from tests.trading import a_past_event, a_stall

NOBODY = "019f1c2e-7b1a-7c3d-9e4f-5a6b7c8d9e0f"
COMING = "2031-05-10"


async def suggest(api: Client, event: Any, size: int, **more: object) -> Any:  # noqa: ANN401 - JSON
    body = {"event_id": event["id"], "size": size, **more}
    return await api.post("/v1/rail-suggestions", body)


async def test_what_sold_before_is_taken_first_and_every_choice_is_explained(api: Client) -> None:
    stall = await a_stall(api)
    await a_past_event(api, stall, "2026-05-09", ["40.00"] * 8, category="coats")
    await a_past_event(
        api, stall, "2026-06-13", ["40.00"], taken=9, category="jugs", name="Mill fair"
    )
    event = await an_event(api, stall, starts_on=COMING, ends_on=COMING)
    same = {"cost": "10.00", "acquired_on": "2025-01-01"}
    coat = await an_item(api, "Coat", category="coats", **same)
    found = await suggest(api, event, 3)
    first = found["pieces"][0]
    assert (first["tag_code"], first["rank"], first["price"]) == (coat["tag_code"], 1, "40.00")
    assert first["chance"] > found["pieces"][1]["chance"]
    # 40.00 less the card fee of 1.00 and the cost of 10.00.
    assert first["sentence"].startswith("Of pieces like it 8 of 8 taken were sold")
    assert "margin 29.00" in first["sentence"]
    assert len(found["pieces"]) == 3
    assert found["left_out_count"] == len(found["left_out"]) == 6  # nine in stock
    assert found["left_out"][0]["sentence"].startswith("The rail is full")
    assert found["limits"] == [
        "Only 17 pieces were taken to earlier events, so the chances are rough."
    ]


async def test_reserved_pieces_stay_unless_asked_for_and_a_price_is_needed(api: Client) -> None:
    event = await an_event(api, await a_stall(api), starts_on=COMING, ends_on=COMING)
    kept = await an_item(api, "Kept", reserved_until="2031-06-01", cost="10.00")
    free = await an_item(api, "Free", reserved_until="2031-05-09", cost="10.00")
    await an_item(api, "No price", price=None)
    found = await suggest(api, event, 10)
    assert [one["tag_code"] for one in found["pieces"]] == [free["tag_code"]]
    said = {one["item_id"]: one["sentence"] for one in found["left_out"]}
    assert said[kept["id"]] == "It is reserved until 2031-06-01 for a sale online."
    assert "It has no price." in said.values()
    asked = await suggest(api, event, 10, include_reserved=True)
    assert {one["title"] for one in asked["pieces"]} == {"Kept", "Free"}


async def test_what_is_gone_is_not_suggested(api: Client) -> None:
    stall = await a_stall(api)
    past = await a_past_event(api, stall, "2026-05-09", ["40.00"], taken=3)
    event = await an_event(api, stall, starts_on=COMING, ends_on=COMING)
    assert len((await suggest(api, event, 10))["pieces"]) == 2
    await api.put(f"/v1/events/{past['id']}/count", {"codes": []})
    assert (await suggest(api, event, 10))["pieces"] == []


async def test_a_wrong_question_is_refused(api: Client) -> None:
    event = await an_event(api)
    wrong: list[tuple[dict[str, object], str]] = [
        ({"event_id": event["id"], "size": 0}, "invalid-input"),
        ({"event_id": event["id"], "size": 5001}, "invalid-input"),
        ({"event_id": event["id"]}, "invalid-input"),
        ({"event_id": NOBODY, "size": 5}, "unknown-reference"),
        ({"event_id": event["id"], "size": 5, "best": True}, "invalid-input"),
    ]
    for body, kind in wrong:
        answer = await api.ask("POST", "/v1/rail-suggestions", body)
        assert answer.status_code == 422, answer.text
        assert answer.json()["type"].endswith(f"/{kind}"), (body, answer.text)
