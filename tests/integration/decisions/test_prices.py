"""Prices side by side, rules, and a rail priced at once; the sums in comments are done by hand."""

from __future__ import annotations

from typing import Any

import pytest
from tests.api_client import Client
from tests.factories import an_event, an_item
from tests.trading import a_stall, an_online_channel

NOBODY = "019f1c2e-7b1a-7c3d-9e4f-5a6b7c8d9e0f"


def by_channel(found: Any, of: str = "quotes") -> dict[str, Any]:  # noqa: ANN401 - JSON
    return {one["channel"]: one for one in found[of]}


async def test_an_item_is_priced_on_every_channel_and_coming_event(api: Client) -> None:
    stall, online = await a_stall(api), await an_online_channel(api)
    rule = {"starts_at": "take_home_of", "of": stall["id"]}
    assert (await api.put(f"/v1/channels/{online['id']}/price-rule", rule))["of"] == stall["id"]
    day = {"day": "2031-05-10", "pitch_fee": "50.00"}
    await an_event(
        api, stall, name="Quay fair", starts_on="2031-05-10", ends_on="2031-05-10", days=[day]
    )
    item = await an_item(api, price="40.00", cost="12.00", floor="30.00")
    body = {"tag_code": item["tag_code"], "wanted_take_home": "36.00", "expected_pieces": 10}
    found = await api.post("/v1/price-quotes", body)
    assert [one["channel"] for one in found["quotes"]] == ["Harbour stall", "Tidelist", "Quay fair"]
    quotes = by_channel(found)
    # 40.00 less 2.5 per cent is 39.00; less 12.00 is 27.00, 67.5 per cent of the price.
    at_stall = quotes["Harbour stall"]
    assert (at_stall["price"], at_stall["take_home"]["take_home"]) == ("40.00", "39.00")
    assert at_stall["take_home"]["lines"] == [
        {"name": "card fee", "kind": "payment", "amount": "-1.00"}
    ]
    assert (at_stall["margin"], at_stall["margin_ppm"]) == ("27.00", 675_000)
    # 43.89 less (4.389 + 0.50 = 4.89) is 39.00; 43.88 leaves 38.99.
    assert quotes["Tidelist"]["price"] == "43.89"
    # 5.00 of the pitch on each piece: 45.13 less 1.13 is 44.00; 45.12 less 1.13 is 43.99.
    assert quotes["Quay fair"]["price"] == "45.13"
    # 40.56 less 4.56 is 36.00, 40.55 less 4.56 is 35.99; 36.92 less 0.92 is 36.00.
    wanted = by_channel(found, "wanted")
    assert (wanted["Tidelist"]["price"], wanted["Harbour stall"]["price"]) == ("40.56", "36.92")


async def test_prices_go_to_the_shops_points_and_never_under_the_floor(api: Client) -> None:
    stall = await a_stall(api)
    none_set = await api.get("/v1/shop/price-points")
    assert none_set == {"step": "0.01", "below": "0.00", "towards": "nearest"}
    points = {"step": "5.00", "below": "0.01", "towards": "nearest"}
    assert await api.put("/v1/shop/price-points", points) == points
    assert await api.get("/v1/shop/price-points") == points
    await api.put(f"/v1/channels/{stall['id']}/price-rule", {"markup_percent": "-20"})
    [quote] = (await api.post("/v1/price-quotes", {"price": "40.00"}))["quotes"]
    assert (quote["price"], quote["is_at_floor"], quote["margin"]) == ("29.99", False, None)
    body = {"price": "40.00", "floor": "36.00", "cost": "5.00"}
    [quote] = (await api.post("/v1/price-quotes", body))["quotes"]
    assert (quote["price"], quote["is_at_floor"]) == ("39.99", True)


async def test_a_rule_reads_back_as_it_was_put_and_can_go_again(api: Client) -> None:
    stall = await a_stall(api)
    path = f"/v1/channels/{stall['id']}/price-rule"
    plain = await api.get(path)
    assert (plain["starts_at"], plain["markup_percent"], plain["offset"]) == ("base", "0", "0.00")
    rule = {
        "starts_at": "base",
        "of": None,
        "markup_percent": "-2.5",
        "offset": "-1.50",
        "recovers": {"pitch_fee": "60.00", "expected_pieces": 12},
        "points": {"step": "1.00", "below": "0.00", "towards": "up"},
    }
    assert await api.put(path, rule) == rule
    assert await api.get(path) == rule
    assert (await api.ask("DELETE", path)).status_code == 204
    assert await api.get(path) == plain


async def test_a_rule_that_makes_no_sense_is_refused(
    api: Client, subtests: pytest.Subtests
) -> None:
    stall, online = await a_stall(api), await an_online_channel(api)
    path = f"/v1/channels/{stall['id']}/price-rule"
    await api.put(
        f"/v1/channels/{online['id']}/price-rule", {"starts_at": "price_of", "of": stall["id"]}
    )
    wrong: list[tuple[object, str]] = [
        ({"starts_at": "price_of", "of": online["id"]}, "price-rule"),  # a circle
        ({"starts_at": "price_of", "of": NOBODY}, "unknown-reference"),
        ({"starts_at": "price_of"}, "invalid-input"),
        ({"of": online["id"]}, "invalid-input"),
        ({"markup_percent": "-100.0001"}, "invalid-input"),
        ({"points": {"step": "0.00"}}, "price-rule"),
        ({"points": {"step": "1.00", "below": "1.00"}}, "price-rule"),
        ({"recovers": {"pitch_fee": "1.00", "expected_pieces": 0}}, "invalid-input"),
        ({"offset": "1"}, "invalid-input"),
    ]
    for body, kind in wrong:
        with subtests.test(str(body)):
            answer = await api.ask("PUT", path, body)
            assert answer.status_code == 422, answer.text
            assert answer.json()["type"].endswith(f"/{kind}")
    assert (await api.get(path))["starts_at"] == "base"
    nowhere = await api.ask("PUT", f"/v1/channels/{NOBODY}/price-rule", {})
    assert nowhere.status_code == 404


async def test_a_quote_needs_a_piece_with_a_price(api: Client) -> None:
    item = await an_item(api, price=None)
    await a_stall(api)
    wrong: list[tuple[dict[str, object], str]] = [
        ({}, "invalid-input"),
        ({"tag_code": item["tag_code"]}, "price-rule"),
        ({"tag_code": item["tag_code"], "item_id": item["id"]}, "invalid-input"),
        ({"item_id": NOBODY}, "unknown-reference"),
        ({"price": "40"}, "invalid-input"),
        ({"price": "40.00", "expected_pieces": 0}, "invalid-input"),
        ({"price": "40.00", "wanted_take_home": "9999999999999.00"}, "price-out-of-reach"),
    ]
    for body, kind in wrong:
        answer = await api.ask("POST", "/v1/price-quotes", body)
        assert answer.status_code == 422, (body, answer.text)
        assert answer.json()["type"].endswith(f"/{kind}"), (body, answer.text)
    body = {"tag_code": item["tag_code"], "price": "20.00"}
    [quote] = (await api.post("/v1/price-quotes", body))["quotes"]
    assert quote["price"] == "20.00"


async def a_rail(api: Client) -> tuple[str, list[Any]]:
    event = await an_event(api, await a_stall(api))
    items = [
        await an_item(api, "Coat", price="40.00"),
        await an_item(api, "Scarf", price="20.00", floor="19.00"),
        await an_item(api, "Jug", price=None),
    ]
    path = f"/v1/events/{event['id']}"
    await api.put(f"{path}/rail", {"pieces": [{"item_id": item["id"]} for item in items]})
    return path, items


async def prices(api: Client, path: str) -> dict[str, str | None]:
    pieces = (await api.get(f"{path}/rail"))["pieces"]
    return {piece["title"]: piece["price"] for piece in pieces}


async def test_a_preview_shows_what_a_rule_changes_and_changes_nothing(api: Client) -> None:
    path, items = await a_rail(api)
    body = {"rule": {"markup_percent": "-10"}}
    before = await prices(api, path)
    found = await api.post(f"{path}/rail-prices?preview=true", body)
    assert found["is_preview"] is True
    changes = {one["title"]: (one["old"], one["new"], one["change"]) for one in found["changes"]}
    assert changes == {"Coat": ("40.00", "36.00", "-4.00"), "Scarf": ("20.00", "19.00", "-1.00")}
    assert found["without_price"] == [items[2]["tag_code"]]
    assert await prices(api, path) == before
    done = await api.post(f"{path}/rail-prices", body)
    assert done == {**found, "is_preview": False}
    assert await prices(api, path) == {"Coat": "36.00", "Scarf": "19.00", "Jug": None}
    again = await api.post(f"{path}/rail-prices", body)
    assert (again["changes"], again["unchanged"]) == ([], 2)


async def test_without_a_rule_the_channels_own_is_taken(api: Client) -> None:
    path, _ = await a_rail(api)
    [channel] = (await api.get("/v1/channels"))["data"]
    await api.put(f"/v1/channels/{channel['id']}/price-rule", {"offset": "5.00"})
    await api.post(f"{path}/rail-prices", {})
    assert await prices(api, path) == {"Coat": "45.00", "Scarf": "25.00", "Jug": None}


async def test_a_rail_that_is_not_there_or_a_bad_rule_is_refused(api: Client) -> None:
    path, _ = await a_rail(api)
    nowhere = await api.ask("POST", f"/v1/events/{NOBODY}/rail-prices", {})
    assert nowhere.status_code == 404
    body = {"rule": {"starts_at": "price_of", "of": NOBODY}}
    answer = await api.ask("POST", f"{path}/rail-prices", body)
    assert answer.json()["errors"][0]["pointer"] == "#/rule/of"
    answer = await api.ask("POST", f"{path}/rail-prices", {"rule": {"offset": "1"}})
    assert answer.json()["errors"][0]["pointer"] == "#/rule/offset"
    answer = await api.ask("POST", f"{path}/rail-prices?preview=perhaps", {})
    assert answer.status_code == 400
