from __future__ import annotations

import asyncio
from typing import Any
from uuid import uuid4

from tests.api_client import Client
from tests.factories import a_channel, a_sale, an_event, an_item, line


async def _transactions(api: Client) -> list[dict[str, Any]]:
    found = (await api.get("/v1/transactions"))["data"]
    assert isinstance(found, list)
    return found


async def test_a_cash_sale_takes_the_piece_and_is_its_own_payment(api: Client) -> None:
    coat, event = await an_item(api), await an_event(api)
    rung = await a_sale(api, event, line(coat, "35.00"))
    assert rung["conflicts"] == []
    assert rung["sale"]["lines"][0]["item_id"] == coat["id"]
    item = await api.get(f"/v1/items/{coat['id']}")
    assert (item["sold"], item["state"]) == (1, "sold")
    [payment] = await _transactions(api)
    assert payment["id"] == rung["sale"]["transaction_id"]
    assert (payment["amount"], payment["method"]) == ("35.00", "cash")
    assert payment["match_state"] == "matched"


async def test_a_card_sale_waits_for_its_payment(api: Client) -> None:
    coat, event = await an_item(api), await an_event(api)
    rung = await a_sale(api, event, line(coat), method="card")
    assert rung["sale"]["transaction_id"] is None
    assert await _transactions(api) == []
    waiting = await api.get("/v1/sales?payment=waiting")
    assert [one["id"] for one in waiting["data"]] == [rung["sale"]["id"]]


async def test_sending_a_stall_sale_twice_writes_it_once(api: Client) -> None:
    coat, event = await an_item(api), await an_event(api)
    sale_id = str(uuid4())
    body = {"id": sale_id, "event_id": event["id"], "method": "cash", "lines": [line(coat)]}
    body["sold_at"] = "2026-05-09T10:00:00+01:00"
    first = await api.ask("POST", "/v1/sales", body)
    again = await api.ask("POST", "/v1/sales", body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["sale"] == again.json()["sale"]
    assert len((await api.get("/v1/sales"))["data"]) == 1
    assert len(await _transactions(api)) == 1


async def test_another_sale_under_a_known_id_is_409(api: Client) -> None:
    event = await an_event(api)
    sale_id = str(uuid4())
    await a_sale(api, event, line(price="5.00"), id=sale_id)
    body = {"id": sale_id, "event_id": event["id"], "method": "cash", "lines": [line(price="6.00")]}
    answer = await api.ask("POST", "/v1/sales", body)
    assert (answer.status_code, answer.json()["type"].rpartition("/")[2]) == (409, "id-taken")


async def test_a_second_stall_sale_of_a_piece_is_kept_untagged_with_a_conflict(
    api: Client,
) -> None:
    coat, event = await an_item(api), await an_event(api)
    await a_sale(api, event, line(coat))
    second = await a_sale(api, event, line(coat, "38.00"))
    assert second["sale"]["lines"][0]["item_id"] is None
    assert second["sale"]["total"] == "38.00"
    [conflict] = second["conflicts"]
    assert (conflict["kind"], conflict["item_id"]) == ("second-claim", coat["id"])
    assert coat["tag_code"] in conflict["detail"]
    open_ones = (await api.get("/v1/conflicts?state=open"))["data"]
    assert [one["id"] for one in open_ones] == [conflict["id"]]
    settled = await api.post(f"/v1/conflicts/{conflict['id']}/settle")
    assert (settled["state"], settled["settled_by"]) == ("settled", "owner")
    assert (await api.get("/v1/conflicts?state=open"))["data"] == []


async def test_a_typed_sale_of_a_sold_piece_is_409_and_leaves_nothing(api: Client) -> None:
    coat, channel = await an_item(api), await a_channel(api, kind="direct")
    body = {"channel_id": channel["id"], "method": "cash", "lines": [line(coat)]}
    await api.post("/v1/sales", body)
    answer = await api.ask("POST", "/v1/sales", body)
    assert answer.status_code == 409
    assert answer.json()["type"].endswith("/item-already-sold")
    assert answer.json()["tag_code"] == coat["tag_code"]
    assert len((await api.get("/v1/sales"))["data"]) == 1
    assert len(await _transactions(api)) == 1


async def test_a_code_nobody_has_does_not_lose_a_stall_sale(api: Client) -> None:
    event = await an_event(api)
    rung = await a_sale(api, event, line(price="12.00", tag_code="M4R-7HE"))
    assert rung["sale"]["lines"][0]["title"] == "M4R-7HE"
    assert [one["kind"] for one in rung["conflicts"]] == ["unknown-code"]


async def test_two_tills_selling_one_piece_at_once_sell_it_once(api: Client) -> None:
    coat, event = await an_item(api), await an_event(api)
    both = await asyncio.gather(*(a_sale(api, event, line(coat)) for _ in range(4)))
    tagged = [one for one in both if one["sale"]["lines"][0]["item_id"]]
    assert len(tagged) == 1
    assert sum(len(one["conflicts"]) for one in both) == 3
    assert (await api.get(f"/v1/items/{coat['id']}"))["sold"] == 1


async def test_one_line_may_take_all_of_a_quantity_and_the_next_none(api: Client) -> None:
    bowls, event = await an_item(api, "Stoneware bowl", quantity=3), await an_event(api)
    two, two_more = line(bowls, "20.00", quantity=2), line(bowls, "20.00", quantity=2)
    rung = await a_sale(api, event, two, two_more)
    assert [one["item_id"] for one in rung["sale"]["lines"]] == [bowls["id"], None]
    assert len(rung["conflicts"]) == 1


async def test_a_void_sale_gives_piece_and_payment_back(api: Client) -> None:
    coat, event = await an_item(api), await an_event(api)
    rung = await a_sale(api, event, line(coat))
    path = f"/v1/sales/{rung['sale']['id']}"
    tag = (await api.ask("GET", path)).headers["etag"]
    voided = await api.ask("POST", f"{path}/void", If_Match=tag)
    assert (voided.status_code, voided.json()["state"]) == (200, "void")
    assert (await api.get(f"/v1/items/{coat['id']}"))["sold"] == 0
    assert await _transactions(api) == []
    again = await api.ask("POST", f"{path}/void", If_Match="*")
    assert (again.status_code, again.json()["type"].rpartition("/")[2]) == (409, "sale-is-void")


async def test_a_returned_line_is_in_stock_again_and_the_money_is_a_refund(api: Client) -> None:
    coat, scarf, event = await an_item(api), await an_item(api, "Scarf"), await an_event(api)
    rung = await a_sale(api, event, line(coat), line(scarf, "12.00"))
    path = f"/v1/sales/{rung['sale']['id']}/returns"
    too_much = await api.ask("POST", path, {"lines": [2], "refund": "12.01"}, If_Match="*")
    assert too_much.status_code == 422
    answer = await api.ask("POST", path, {"lines": [2], "refund": "10.00"}, If_Match="*")
    assert [one["state"] for one in answer.json()["lines"]] == ["sold", "returned"]
    assert (await api.get(f"/v1/items/{scarf['id']}"))["state"] == "in_stock"
    amounts = sorted(one["amount"] for one in await _transactions(api))
    assert amounts == ["-10.00", "52.00"]
    twice = await api.ask("POST", path, {"lines": [2]}, If_Match="*")
    assert twice.status_code == 422


async def test_a_moment_is_on_the_shops_own_day(api: Client) -> None:
    event = await an_event(api)  # Lisbon is at UTC+1 in May
    rung = await a_sale(api, event, line(), sold_at="2026-05-09T23:30:00Z")
    assert rung["sale"]["sold_on"] == "2026-05-10"
    body = {
        "event_id": event["id"],
        "lines": [line()],
        "sold_at": "2026-05-09T23:30:00Z",
        "sold_on": "2026-05-09",
    }
    assert (await api.ask("POST", "/v1/sales", body)).status_code == 422


async def test_a_sale_of_an_event_that_is_over_needs_its_day(api: Client) -> None:
    event = await an_event(api)
    body = {"event_id": event["id"], "method": "cash", "lines": [line()]}
    answer = await api.ask("POST", "/v1/sales", body)
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "#/sold_on")
    assert "held from 2026-05-09 to 2026-05-10" in answer.json()["detail"]
    day = await api.post("/v1/sales", {**body, "sold_on": "2026-05-10"})
    assert day["sale"]["sold_on"] == "2026-05-10"


async def test_a_sale_of_an_event_is_not_one_of_another_channel(api: Client) -> None:
    event, other = await an_event(api), await a_channel(api, "Tidelist", "online")
    body = {"event_id": event["id"], "channel_id": other["id"], "lines": [line()]}
    answer = await api.ask("POST", "/v1/sales", {**body, "sold_on": "2026-05-10"})
    assert answer.status_code == 422
    assert answer.json()["type"].endswith("/sale-misplaced")
    assert "Harbour fair is not an event of the channel Tidelist" in answer.json()["detail"]
