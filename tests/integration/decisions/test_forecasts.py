"""A forecast over HTTP: the right facts reach the model, whose own tests are elsewhere."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from tests.api_client import Client
from tests.factories import an_event, an_item
from tests.trading import a_past_event, a_stall

from stallkeep.domain.fees import FeePart, FeeSchedule
from stallkeep.domain.forecast import ForecastPiece, ForecastQuestion, forecast
from stallkeep.domain.sell_rate import PastEvent

NOBODY = "019f1c2e-7b1a-7c3d-9e4f-5a6b7c8d9e0f"
COMING = "2031-05-10"


async def a_coming_event(api: Client, stall: Any, pieces: int = 12) -> Any:  # noqa: ANN401
    """Two days at 30.00 each, fuel for 20.00, a rail of pieces at 40.00 that cost 10.00."""
    event = await an_event(
        api,
        stall,
        name="Quay fair",
        kind="harbour fair",
        starts_on=COMING,
        ends_on="2031-05-11",
        days=[{"day": COMING, "pitch_fee": "30.00"}, {"day": "2031-05-11", "pitch_fee": "30.00"}],
    )
    await api.post("/v1/costs", {"kind": "travel", "amount": "20.00", "event_id": event["id"]})
    items = [await an_item(api, cost="10.00", category="coats") for _ in range(pieces)]
    rail = {"pieces": [{"item_id": item["id"]} for item in items]}
    await api.put(f"/v1/events/{event['id']}/rail", rail)
    return event


async def test_the_forecast_is_the_models_for_the_shops_own_facts(api: Client) -> None:
    stall = await a_stall(api)
    await a_past_event(
        api, stall, "2026-05-09", ["40.00"] * 6, taken=12, kind="harbour fair", name="A"
    )
    await a_past_event(api, stall, "2026-07-04", ["36.00"] * 3, taken=12, name="B", kind="town")
    event = await a_coming_event(api, stall)
    asked = {"event_id": event["id"], "draws": 2000, "seed": 7, "wanted_chance": 0.7}
    found = await api.post("/v1/forecasts", asked)
    question = ForecastQuestion(
        currency="EUR",
        starts_on=dt.date(2031, 5, 10),
        days=2.0,
        kind="harbour fair",
        history=(
            PastEvent(starts_on=dt.date(2026, 7, 4), days=1.0, pieces=3, kind="town"),
            PastEvent(starts_on=dt.date(2026, 5, 9), days=1.0, pieces=6, kind="harbour fair"),
        ),
        rail=tuple(
            ForecastPiece(item_id=str(n), price_minor=4000, cost_minor=1000) for n in range(12)
        ),
        pitch_fee_minor=6000,
        other_costs_minor=2000,
        fees=FeeSchedule(parts=(FeePart(name="card fee", kind="payment", rate_ppm=25_000),)),
        card_share_ppm=0,  # everything was paid in cash
        usual_sell_through_ppm=375_000,  # 9 of 24
        wanted_chance=0.7,
        draws=2000,
        seed=7,
    )
    told = forecast(question)
    assert [int(one["net"].replace(".", "")) for one in found["net"]] == [
        one.net_minor for one in told.net
    ]
    assert [one["pieces"] for one in found["pieces"]] == [one.pieces for one in told.pieces]
    assert found["summary"] == told.summary
    assert (found["events"], found["paid_share_ppm"]) == (2, 1_000_000)
    assert (found["pieces_to_have"], found["pieces_to_take"]) == (
        told.pieces_to_have,
        told.pieces_to_take,
    )
    assert (found["pitch_fee"], found["other_costs"]) == ("60.00", "20.00")
    assert sum(one["share"] for one in found["histogram"]) == pytest.approx(1)
    assert "licensed professional" in found["caution"]


async def test_the_same_seed_gives_the_same_answer(api: Client) -> None:
    event = await a_coming_event(api, await a_stall(api))
    body = {"event_id": event["id"], "draws": 1000, "seed": 3}
    first = await api.post("/v1/forecasts", body)
    assert await api.post("/v1/forecasts", body) == first
    assert await api.post("/v1/forecasts", {**body, "seed": 4}) != first


async def test_without_history_it_says_how_little_it_rests_on(api: Client) -> None:
    event = await a_coming_event(api, await a_stall(api))
    found = await api.post("/v1/forecasts", {"event_id": event["id"], "draws": 1000})
    assert (found["events"], found["prior_share"]) == (0, 1.0)
    assert found["limits"][0].startswith("No earlier event is known")
    assert found["pieces_to_take"] is None


async def test_the_advice_follows_the_highest_fee_worth_paying(api: Client) -> None:
    event = await a_coming_event(api, await a_stall(api))
    body = {"event_id": event["id"], "draws": 1000}
    highest = (await api.post("/v1/forecasts", body))["highest_pitch_fee"]
    just = await api.post("/v1/forecasts", {**body, "pitch_fee": highest})
    assert "worth booking" in just["advice"]
    assert just["chance_to_break_even"] >= 0.8
    above = f"{int(highest.partition('.')[0]) + 60}.00"
    dear = await api.post("/v1/forecasts", {**body, "pitch_fee": above})
    assert "may cost at most" in dear["advice"]
    assert dear["highest_pitch_fee"] == highest
    assert dear["chance_to_break_even"] < 0.8


async def test_what_cannot_be_forecast_is_refused(api: Client) -> None:
    stall = await a_stall(api)
    over = await a_past_event(api, stall, "2026-05-09", ["40.00"])
    bare = await an_event(api, stall, starts_on=COMING, ends_on=COMING)
    wrong: list[tuple[dict[str, object], str]] = [
        ({"event_id": over["id"]}, "forecast-input"),
        ({"event_id": bare["id"]}, "forecast-input"),
        ({"event_id": NOBODY}, "unknown-reference"),
        ({"event_id": bare["id"], "draws": 99}, "invalid-input"),
        ({"event_id": bare["id"], "draws": 100_001}, "invalid-input"),
        ({"event_id": bare["id"], "wanted_chance": 1.0}, "invalid-input"),
        ({"event_id": bare["id"], "pitch_fee": "1.5"}, "invalid-input"),
        ({"event_id": bare["id"], "weather": "fine"}, "invalid-input"),
        ({}, "invalid-input"),
    ]
    for body, kind in wrong:
        answer = await api.ask("POST", "/v1/forecasts", body)
        assert answer.status_code == 422, answer.text
        assert answer.json()["type"].endswith(f"/{kind}"), (body, answer.text)
