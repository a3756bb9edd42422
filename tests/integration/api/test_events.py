from __future__ import annotations

from typing import Any

from tests.api_client import Client
from tests.factories import DAY, NEXT_DAY, a_channel, a_sale, an_event, an_item, line


async def test_an_event_has_every_day_from_start_to_end(api: Client) -> None:
    day = {"day": NEXT_DAY, "opens_at": "09:30:00", "closes_at": "17:00:00", "pitch_fee": "35.00"}
    event = await an_event(api, days=[day], pitch_fee="10.00", own_minutes={"selling": 900})
    assert [one["day"] for one in event["days"]] == [DAY, NEXT_DAY]
    assert event["days"][1]["pitch_fee"] == "35.00"
    assert event["days"][0]["opens_at"] is None
    assert event["own_minutes"] == {
        "preparing": 0,
        "travelling": 0,
        "selling": 900,
        "packing": 0,
    }
    assert await api.get(f"/v1/events/{event['id']}") == event
    assert (await api.get("/v1/events?state=planned"))["data"] == [event]
    assert (await api.get("/v1/events?state=open"))["data"] == []


async def test_an_event_ends_on_or_after_its_start_and_a_day_lies_inside(api: Client) -> None:
    channel = await a_channel(api)
    base = {"channel_id": channel["id"], "name": "Fair", "starts_on": NEXT_DAY}
    backwards = {"day": NEXT_DAY, "opens_at": "17:00:00", "closes_at": "09:00:00"}
    wrong: list[dict[str, object]] = [
        {"ends_on": DAY},
        {"ends_on": "2027-05-09"},
        {"ends_on": NEXT_DAY, "days": [{"day": DAY}]},
        {"ends_on": NEXT_DAY, "days": [backwards]},
    ]
    for more in wrong:
        answer = await api.ask("POST", "/v1/events", {**base, **more})
        assert answer.status_code == 422, answer.text
    assert (await api.get("/v1/events"))["data"] == []


async def test_a_days_figures_count_the_events_version_up(api: Client) -> None:
    event = await an_event(api)
    path = f"/v1/events/{event['id']}"
    tag = (await api.ask("GET", path)).headers["etag"]
    body = {"float": "50.00", "counted_cash": "186.50", "every_cash_sale_noted": True}
    changed = await api.ask("PATCH", f"{path}/days/{DAY}", body, If_Match=tag)
    assert changed.json()["days"][0]["counted_cash"] == "186.50"
    assert changed.headers["etag"] != tag
    stale = await api.ask("PATCH", f"{path}/days/{DAY}", {"float": None}, If_Match=tag)
    assert stale.status_code == 412
    other = await api.ask("PATCH", f"{path}/days/2026-06-01", {}, If_Match="*")
    assert (other.status_code, other.json()["type"].rpartition("/")[2]) == (404, "day-not-found")


async def test_moving_an_event_keeps_days_with_figures(api: Client) -> None:
    event = await an_event(api)
    path = f"/v1/events/{event['id']}"
    longer = await api.patch(path, {"ends_on": "2026-05-11"})
    assert len(longer["days"]) == 3
    await api.patch(f"{path}/days/2026-05-11", {"float": "20.00"})
    refused = await api.ask("PATCH", path, {"ends_on": DAY}, If_Match="*")
    assert refused.status_code == 409
    assert refused.json()["day"] == "2026-05-11"
    await api.patch(f"{path}/days/2026-05-11", {"float": None})
    assert len((await api.patch(path, {"ends_on": DAY}))["days"]) == 1


async def test_an_event_with_sales_cannot_be_removed(api: Client) -> None:
    channel = await a_channel(api)
    event, empty = await an_event(api, channel), await an_event(api, channel)
    await a_sale(api, event, line())
    refused = await api.ask("DELETE", f"/v1/events/{event['id']}", If_Match="*")
    assert refused.status_code == 409
    gone = await api.ask("DELETE", f"/v1/events/{empty['id']}", If_Match="*")
    assert gone.status_code == 204


async def test_the_rail_is_replaced_as_a_whole_and_keeps_counts(api: Client) -> None:
    event = await an_event(api)
    coat, hat, bowl = [await an_item(api, title) for title in ("Coat", "Hat", "Bowl")]
    path = f"/v1/events/{event['id']}/rail"
    put_out = "2026-05-09T13:00:00+01:00"
    pieces: list[dict[str, object]] = [
        {"tag_code": coat["tag_code"], "price": "35.00", "put_out_at": put_out},
        {"item_id": hat["id"]},
    ]
    rail = await api.put(path, {"pieces": pieces})
    by_title = {piece["title"]: piece for piece in rail["pieces"]}
    assert by_title["Coat"]["price"] == "35.00"
    assert by_title["Coat"]["usual_price"] == "40.00"
    assert by_title["Coat"]["put_out_at"] == "2026-05-09T12:00:00Z"
    await api.put(f"/v1/events/{event['id']}/count", {"codes": [hat["tag_code"]]})
    rail = await api.put(path, {"pieces": [pieces[1], {"item_id": bowl["id"]}]})
    assert {p["title"]: p["counted_home"] for p in rail["pieces"]} == {"Hat": 1, "Bowl": None}
    assert await api.get(path) == rail


async def test_a_rail_with_an_unknown_piece_is_refused_as_a_whole(api: Client) -> None:
    event, coat = await an_event(api), await an_item(api)
    path = f"/v1/events/{event['id']}/rail"
    for pieces, pointer in [
        ([{"item_id": coat["id"]}, {"tag_code": "NOBODYS"}], "#/pieces/1"),
        ([{"item_id": coat["id"], "tag_code": coat["tag_code"]}], "#/pieces/0"),
        ([{}], "#/pieces/0"),
    ]:
        answer = await api.ask("PUT", path, {"pieces": pieces})
        assert answer.status_code == 422
        assert answer.json()["errors"][0]["pointer"] == pointer
    twice = await api.ask("PUT", path, {"pieces": [{"item_id": coat["id"]}] * 2})
    assert twice.status_code == 422
    assert (await api.get(path))["pieces"] == []


async def test_a_rail_holds_no_more_of_a_piece_than_the_shop_has(api: Client) -> None:
    event = await an_event(api)
    bowls = await an_item(api, "Bowl", quantity=3)
    path = f"/v1/events/{event['id']}/rail"
    piece = {"item_id": bowls["id"], "quantity": 4}
    answer = await api.ask("PUT", path, {"pieces": [piece]})
    assert answer.status_code == 422
    problem = answer.json()
    assert problem["type"].endswith("/rail-above-stock")
    assert (problem["tag_code"], problem["quantity"]) == (bowls["tag_code"], 3)
    assert problem["errors"][0]["pointer"] == "#/pieces/0/quantity"
    assert (await api.get(path))["pieces"] == []
    stored = await api.put(path, {"pieces": [{**piece, "quantity": 3}]})
    assert [one["quantity"] for one in stored["pieces"]] == [3]


async def test_a_count_takes_what_fits_and_hands_back_what_does_not(api: Client) -> None:
    event = await an_event(api)
    coat, hat, bowls = [await an_item(api, t, quantity=3) for t in ("Coat", "Hat", "Bowl")]
    at_home = await an_item(api, "Stayed at home")
    named = [{"item_id": one["id"], "quantity": 3} for one in (coat, hat, bowls)]
    await api.put(f"/v1/events/{event['id']}/rail", {"pieces": named})
    typed = coat["tag_code"].lower()
    body = {
        "codes": [f"{typed[:3]}-{typed[3:]}", coat["tag_code"], "nonsense", at_home["tag_code"]],
        "lines": [{"tag_code": bowls["tag_code"], "quantity": 2}],
    }
    count = await api.put(f"/v1/events/{event['id']}/count", body)
    assert {p["title"]: p["counted_home"] for p in count["pieces"]} == {
        "Coat": 2,
        "Hat": 0,
        "Bowl": 2,
    }
    assert (count["unknown"], count["not_on_rail"]) == (["nonsense"], [at_home["tag_code"]])
    back = await api.ask("DELETE", f"/v1/events/{event['id']}/count")
    assert back.status_code == 204
    rail = await api.get(f"/v1/events/{event['id']}/rail")
    assert {piece["counted_home"] for piece in rail["pieces"]} == {None}


async def test_stubs_keep_their_order_and_codes_that_fit_nothing(api: Client) -> None:
    event = await an_event(api)
    path = f"/v1/events/{event['id']}/stubs"
    days = [
        {
            "day": DAY,
            "ordered": True,
            "stubs": [
                {"tag_code": "M4R7HE", "price": "35.00"},
                {"tag_code": "SMUDGED", "price": None},
            ],
        },
        {"day": NEXT_DAY, "ordered": False, "stubs": [{"tag_code": "M4R7HE", "price": None}]},
    ]
    assert await api.put(path, {"days": days}) == {"days": days}
    assert await api.get(path) == {"days": days}
    outside = await api.ask(
        "PUT", path, {"days": [{"day": "2026-06-01", "stubs": [{"tag_code": "X"}]}]}
    )
    assert outside.status_code == 422
    twice = await api.ask("PUT", path, {"days": [days[0], days[0]]})
    assert twice.json()["errors"][0]["pointer"] == "#/days"
    assert await api.put(path, {"days": []}) == {"days": []}


async def test_every_faulty_day_and_price_of_stubs_is_named_at_once(api: Client) -> None:
    event = await an_event(api)
    path = f"/v1/events/{event['id']}/stubs"
    good = {"day": DAY, "stubs": [{"tag_code": "M4R7HE", "price": "35.00"}]}
    kept = await api.put(path, {"days": [good]})
    wrong: list[dict[str, Any]] = [
        {"day": day, "stubs": []} for day in ("2026-06-01", "2026-06-02")
    ]
    refused = await api.ask("PUT", path, {"days": [wrong[0], good, wrong[1]]})
    assert refused.status_code == 422
    assert refused.json()["errors"] == [
        {"detail": "2026-06-01 is no day of the event", "pointer": "#/days/0/day"},
        {"detail": "2026-06-02 is no day of the event", "pointer": "#/days/2/day"},
    ]
    dear = {"day": NEXT_DAY, "stubs": [{"tag_code": "A", "price": "1.005"}] * 2}
    refused = await api.ask("PUT", path, {"days": [wrong[0], dear]})
    assert refused.status_code == 422
    assert [one["pointer"] for one in refused.json()["errors"]] == [
        "#/days/0/day",
        "#/days/1/stubs/0/price",
        "#/days/1/stubs/1/price",
    ]
    assert await api.get(path) == kept


async def test_a_channels_fees_are_dated_and_shown_as_entered(api: Client) -> None:
    channel = await a_channel(api, "Fair Lane", "online")
    path = f"/v1/channels/{channel['id']}/fees"
    terms = {
        "parts": [
            {
                "name": "commission",
                "kind": "channel",
                "base": "total",
                "percent": "8.25",
                "tiers": [{"starts_at": "100.00", "percent": "6"}],
                "tiers_apply_to": "slice",
                "fixed": "0.30",
                "minimum": "0.50",
                "maximum": None,
            }
        ],
        "postage": {"payer": "buyer", "cost": "4.90"},
        "tax_on_fees_percent": "23",
        "returned_on_refund": True,
    }
    shown = await api.put(f"{path}/2026-01-01", terms)
    assert shown == {"valid_from": "2026-01-01", "terms": terms}
    await api.put(f"{path}/2025-01-01", {})
    listed = (await api.get(path))["data"]
    assert [one["valid_from"] for one in listed] == ["2025-01-01", "2026-01-01"]
    assert (await api.ask("DELETE", f"{path}/2025-01-01")).status_code == 204
    assert (await api.ask("DELETE", f"{path}/2025-01-01")).status_code == 404
    assert (await api.get(path))["data"] == [shown]


async def test_fees_that_leave_nothing_are_refused(api: Client) -> None:
    channel = await a_channel(api, "Fair Lane", "online")
    path = f"/v1/channels/{channel['id']}/fees/2026-01-01"
    for part, kind in [
        ({"name": "all", "percent": "100"}, "fee-schedule"),
        ({"name": "odd", "percent": "5,5"}, "invalid-input"),
        ({"name": "odd", "fixed": "0.305"}, "invalid-input"),
    ]:
        answer = await api.ask("PUT", path, {"parts": [part]})
        assert (answer.status_code, answer.json()["type"].rpartition("/")[2]) == (422, kind)
    assert (await api.get(path.removesuffix("/2026-01-01")))["data"] == []


async def test_a_channel_in_use_cannot_be_removed(api: Client) -> None:
    channel, unused = await a_channel(api), await a_channel(api, "Unused", "direct")
    await an_event(api, channel)
    used = await api.ask("DELETE", f"/v1/channels/{channel['id']}", If_Match="*")
    assert used.status_code == 409
    gone = await api.ask("DELETE", f"/v1/channels/{unused['id']}", If_Match="*")
    assert gone.status_code == 204
    renamed = await api.patch(f"/v1/channels/{channel['id']}", {"name": "Quay stall"})
    assert [one["name"] for one in (await api.get("/v1/channels"))["data"]] == [renamed["name"]]
