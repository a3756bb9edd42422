"""An event beside others and beside other channels; the sums in comments are done by hand."""

from __future__ import annotations

from tests.api_client import Client
from tests.factories import an_event, an_item
from tests.trading import (
    a_cash_sale,
    a_past_event,
    a_stall,
    an_online_channel,
    offered_online,
    sold_online,
)

DAY = "2026-05-09"


async def test_an_event_is_set_beside_the_others_per_day(api: Client) -> None:
    stall = await a_stall(api)
    this = await a_past_event(api, stall, DAY, ["40.00", "30.00"], name="Quay fair")
    await a_past_event(api, stall, "2026-05-16", ["50.00"] * 3, name="Mill fair")
    found = await api.get(f"/v1/events/{this['id']}/comparison")
    events = found["events"]
    # 70 - 20 - 40 = 10; 150 - 30 - 40 = 80; open for eight hours.
    assert (events["this"]["net"], events["this"]["net_per_hour"]) == ("10.00", "1.25")
    assert [(one["name"], one["net"]) for one in events["others"]] == [("Mill fair", "80.00")]
    assert (events["average_net"], events["rank"], events["like_for_like"]) == ("80.00", 2, False)
    assert events["sentence"] == (
        "This event earned 10.00 per day, 70.00 less than the average of 1 other: number 2 of 2."
    )
    assert "licensed professional" in found["caution"]


async def test_only_events_of_the_same_kind_are_compared_when_there_are_two(api: Client) -> None:
    stall = await a_stall(api)
    this = await a_past_event(api, stall, DAY, ["40.00"], kind="harbour fair")
    for day in ("2026-05-16", "2026-05-23"):
        await a_past_event(api, stall, day, ["60.00"], kind="harbour fair")
    await a_past_event(api, stall, "2026-05-30", ["900.00"], kind="town market")
    events = (await api.get(f"/v1/events/{this['id']}/comparison"))["events"]
    assert events["like_for_like"] is True
    assert [one["net"] for one in events["others"]] == ["10.00", "10.00"]  # 60 - 10 - 40


async def test_the_pieces_are_set_beside_what_they_earn_online(api: Client) -> None:
    stall, online = await a_stall(api), await an_online_channel(api)
    this = await a_past_event(api, stall, DAY, ["40.00", "30.00"])
    for _ in range(5):
        await sold_online(api, online, "60.00", listed_on="2026-05-01", sold_on="2026-05-11")
    waiting = await an_item(api, category="coats", cost="10.00")
    await offered_online(api, online, waiting, "2026-05-01")
    found = await api.get(f"/v1/events/{this['id']}/comparison")
    assert (found["pieces"], found["estimated_pieces"]) == (2, 0)
    assert (found["over_cost"], found["event_costs"]) == ("50.00", "40.00")  # 70 - 20
    # 60 - 6 - 0.50 - 10 = 43.50 for each; five of six gone after ten days.
    [whole, coats] = found["channels"]
    assert (whole["sold"], whole["offered"], whole["over_cost"]) == (5, 6, "43.50")
    assert (coats["category"], coats["median_days"]) == ("coats", 10)
    [there] = found["elsewhere"]
    assert (there["here"], there["there"], there["median_days"]) == ("50.00", "87.00", 10)
    assert there["sentence"].startswith("These 2 pieces would have earned 87.00 over cost on Tide")


async def test_a_piece_sold_at_the_stall_was_still_waiting_online(api: Client) -> None:
    stall, online = await a_stall(api), await an_online_channel(api)
    event = await an_event(api, stall, starts_on=DAY, ends_on=DAY)
    item = await an_item(api, category="coats", cost="10.00")
    await offered_online(api, online, item, "2026-05-01")
    await a_cash_sale(api, event, item, "40.00", DAY)
    found = await api.get(f"/v1/events/{event['id']}/comparison")
    assert [(one["sold"], one["offered"]) for one in found["channels"]] == [(0, 1), (0, 1)]
    assert found["elsewhere"] == []


async def test_what_a_count_misses_gets_its_share_of_unsettled_takings(api: Client) -> None:
    stall = await a_stall(api)
    event = await a_past_event(api, stall, DAY, ["40.00"], taken=3)
    rail = (await api.get(f"/v1/events/{event['id']}/rail"))["pieces"]
    sold = [
        line["item_id"] for sale in (await api.get("/v1/sales"))["data"] for line in sale["lines"]
    ]
    home = [piece["tag_code"] for piece in rail if piece["item_id"] not in sold][:1]
    await api.put(f"/v1/events/{event['id']}/count", {"codes": home})
    # 50 float + 40 noted + 25 that nobody noted.
    box = {"float": "50.00", "counted_cash": "115.00"}
    await api.patch(f"/v1/events/{event['id']}/days/{DAY}", box)
    found = await api.get(f"/v1/events/{event['id']}/comparison")
    assert (found["pieces"], found["estimated_pieces"]) == (2, 1)
    assert found["over_cost"] == "45.00"  # 40 - 10 and 25 - 10


async def test_an_event_nobody_has_is_404(api: Client) -> None:
    answer = await api.ask("GET", "/v1/events/019f1c2e-7b1a-7c3d-9e4f-5a6b7c8d9e0f/comparison")
    assert answer.status_code == 404
    assert answer.json()["type"].endswith("/event-not-found")
