"""The pages about decisions, as the demo prints them, fit 80 columns and say what was answered."""

from __future__ import annotations

import io

from rich.console import Console
from tests.api_client import Client
from tests.factories import an_event, an_item
from tests.trading import a_past_event, a_stall, an_online_channel, sold_online

from stallkeep.cli import demo_decisions as decide


def a_console() -> Console:
    return Console(width=80, file=io.StringIO(), record=True)


async def test_every_page_says_what_the_service_answered(api: Client) -> None:
    stall, online = await a_stall(api), await an_online_channel(api)
    event = await a_past_event(api, stall, "2026-05-09", ["40.00"] * 6, name="Quay fair")
    await a_past_event(api, stall, "2026-06-13", ["50.00"] * 3, name="Mill fair")
    await sold_online(api, online, "60.00", listed_on="2026-05-01", sold_on="2026-05-11")
    coming = await an_event(
        api, stall, name="Next fair", starts_on="2031-05-10", ends_on="2031-05-10"
    )
    items = [await an_item(api, cost="10.00") for _ in range(10)]
    rail = {"pieces": [{"item_id": item["id"]} for item in items]}
    await api.put(f"/v1/events/{coming['id']}/rail", rail)
    path = f"/v1/events/{event['id']}"
    compared = await api.get(f"{path}/comparison")
    asked = await api.post(f"{path}/what-ifs", {"prices": [{"percent": "-10"}]})
    told = await api.post("/v1/forecasts", {"event_id": coming["id"], "draws": 1000})
    console = a_console()
    decide.comparison(console, compared)
    decide.what_if(console, "the Quay fair", asked)
    decide.forecast(console, told)
    text = console.export_text()
    assert max(len(line) for line in text.splitlines()) <= 80
    flat = " ".join(text.split())
    for said in (
        compared["events"]["sentence"],
        compared["over_cost"],
        compared["elsewhere"][0]["there"],
        asked["answers"][0]["sentence"],
        told["summary"],
        told["advice"],
        told["limits"][0],
        told["caution"],
    ):
        assert " ".join(said.split()) in flat
