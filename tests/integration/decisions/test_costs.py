"""Costs as a seller enters them: amounts, trips by distance, and costs of several events."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Any

import pytest
from tests.api_client import Client, serve_shop
from tests.database import Clone
from tests.factories import a_channel, an_event

NOBODY = "019f1c2e-7b1a-7c3d-9e4f-5a6b7c8d9e0f"
OWN = {"rate": "0.30", "rate_source": "our tax adviser", "rate_from": "2026-01-01"}
KINDS = ("pitch_fee", "travel", "parking", "food", "lodging", "helpers", "supplies", "other")


@pytest.fixture
async def canada(database: Clone) -> AsyncIterator[Client]:
    """A shop that keeps its books in Canadian dollars."""
    async with serve_shop(database.pool, name="Quay", currency="CAD") as client:
        yield client


async def events(api: Client, *lengths: int) -> list[Any]:
    """Events of so many days, one each month from May 2026."""
    channel = await a_channel(api)
    return [
        await an_event(
            api,
            channel,
            name=f"Fair {number}",
            starts_on=f"2026-{4 + number:02d}-09",
            ends_on=f"2026-{4 + number:02d}-{8 + length:02d}",
        )
        for number, length in enumerate(lengths, 1)
    ]


async def told(api: Client, event: Any, kind: str) -> tuple[str, list[tuple[str, str]]]:  # noqa: ANN401
    """The sum of a kind of cost in an event's result, and the lines it came from."""
    result = await api.get(f"/v1/events/{event['id']}/result?explain=true")
    plain = await api.get(f"/v1/events/{event['id']}/result")
    sums = {cost["kind"]: cost["amount"] for cost in plain["whole"]["costs"]}
    assert sums == {cost["kind"]: cost["amount"] for cost in result["whole"]["costs"]}
    lines = [
        (line["amount"], line["text"])
        for figure in result["explained"]
        if figure["figure"] == kind
        for line in figure["lines"]
    ]
    return sums.get(kind, "none"), lines


async def test_every_kind_of_cost_counts_for_a_day_or_for_the_event(api: Client) -> None:
    [event] = await events(api, 2)
    for kind in KINDS:
        for day in (None, "2026-05-10"):
            body = {"kind": kind, "amount": "10.00", "event_id": event["id"], "spent_on": day}
            await api.post("/v1/costs", body)
    result = await api.get(f"/v1/events/{event['id']}/result")
    assert [(one["kind"], one["amount"]) for one in result["whole"]["costs"]] == [
        (kind, "20.00") for kind in KINDS
    ]
    by_day = [day["statement"]["costs_total"] for day in result["days"]]
    assert by_day == ["40.00", "120.00"]  # eight halves of 10.00; and eight of the day's own


async def test_a_distance_at_ones_own_rate(api: Client) -> None:
    [event] = await events(api, 1)
    trip = {"distance": "126.4", "unit": "km", **OWN}
    cost = await api.post("/v1/costs", {"kind": "travel", "event_id": event["id"], "trip": trip})
    assert cost["amount"] == "37.92"  # 126.4 x 0.30
    assert cost["trip"]["parts"] == [{"distance": "126.4", "rate": "0.30"}]
    assert cost["trip"]["driven_on"] == "2026-05-09"
    words = "126.4 km x 0.30 = 37.92 (our tax adviser, from 2026-01-01)"
    assert cost["trip"]["explained"] == words
    assert await told(api, event, "travel") == ("37.92", [("-37.92", f"travel; {words}")])


async def test_the_published_rate_of_the_day_and_of_the_years_distance(canada: Client) -> None:
    # Department of Finance Canada: 72 cents to 5,000 km and 66 beyond in 2025, 73 and 67 in 2026.
    body = {"kind": "travel", "trip": {"distance": "4900", "unit": "km"}}
    first = await canada.post("/v1/costs", {**body, "spent_on": "2025-03-01"})
    assert (first["amount"], first["trip"]["published"]) == ("3528.00", "Canada automobile")
    body["trip"] = {"distance": "200", "unit": "km"}
    second = await canada.post("/v1/costs", {**body, "spent_on": "2025-02-01"})
    assert (second["amount"], second["trip"]["driven_before"]) == ("144.00", "0")
    first = await canada.get(f"/v1/costs/{first['id']}")  # now later in the year's driving
    assert (first["amount"], first["trip"]["driven_before"]) == ("3522.00", "200")
    words = "4800 km x 0.72 + 100 km x 0.66 = 3522.00 (Department"
    assert first["trip"]["explained"].startswith(words)
    next_year = await canada.post("/v1/costs", {**body, "spent_on": "2026-05-09"})
    assert (next_year["amount"], next_year["trip"]["driven_before"]) == ("146.00", "0")
    path = f"/v1/costs/{next_year['id']}"
    moved = await canada.patch(path, {"spent_on": "2025-12-31"})
    assert (moved["amount"], moved["trip"]["rate_from"]) == ("132.00", "2025-01-01")
    first = await canada.get(f"/v1/costs/{first['id']}")
    stale = await canada.ask("DELETE", f"/v1/costs/{first['id']}", If_Match='"1"')
    assert stale.status_code == 412
    assert (await canada.ask("DELETE", f"/v1/costs/{first['id']}", If_Match="*")).status_code == 204
    assert (await canada.get(path))["amount"] == "144.00"
    stated = {"distance": "200", "unit": "km", "driven_before": "4950"}
    said = await canada.post("/v1/costs", {**body, "trip": stated, "spent_on": "2026-01-02"})
    assert said["amount"] == "137.00"  # 50 x 0.73 + 150 x 0.67
    later = await canada.patch(f"/v1/costs/{said['id']}", {"spent_on": "2026-01-03"})
    assert later["trip"]["driven_before"] == "4950"


async def test_a_trip_without_a_day_of_its_own_goes_with_its_event(canada: Client) -> None:
    first, second = await events(canada, 1, 1)
    split = {"by": "days", "events": [{"event_id": e["id"]} for e in (first, second)]}
    body = {"kind": "travel", "trip": {"distance": "100", "unit": "km"}, "split": split}
    path = f"/v1/costs/{(await canada.post('/v1/costs', body))['id']}"
    dates = {"starts_on": "2025-05-09", "ends_on": "2025-05-10"}
    await canada.patch(f"/v1/events/{first['id']}", dates)
    cost = await canada.get(path)
    assert (cost["amount"], cost["trip"]["driven_on"]) == ("72.00", "2025-05-09")
    assert [part["amount"] for part in cost["split"]["parts"]] == ["48.00", "24.00"]
    dates = {"starts_on": "2023-05-09", "ends_on": "2023-05-09"}  # no rate is known for 2023
    await canada.patch(f"/v1/events/{first['id']}", dates)
    cost = await canada.get(path)
    assert (cost["amount"], cost["trip"]["driven_on"]) == ("72.00", "2025-05-09")
    assert [part["amount"] for part in cost["split"]["parts"]] == ["36.00", "36.00"]


async def test_the_published_rates_can_be_read(api: Client) -> None:
    found = (await api.get("/v1/mileage-rates?on=2026-05-09"))["data"]
    assert {(one["name"], one["currency"], one["unit"]) for one in found} == {
        ("US business", "USD", "mi"),
        ("Canada automobile", "CAD", "km"),
        ("UK car", "GBP", "mi"),
    }
    [uk] = (await api.get("/v1/mileage-rates?on=2026-05-09&currency=GBP"))["data"]
    assert uk["bands"] == [{"beyond": 0, "rate": "0.45"}, {"beyond": 10000, "rate": "0.25"}]
    assert "GOV.UK" in uk["source"]


async def test_a_trip_and_an_amount_change_into_each_other(api: Client) -> None:
    trip = {"distance": "100", "unit": "km", **OWN}
    cost = await api.post("/v1/costs", {"kind": "travel", "trip": trip})
    path = f"/v1/costs/{cost['id']}"
    refused = await api.ask("PATCH", path, {"amount": "5.00"}, If_Match="*")
    assert (refused.status_code, kind_of(refused)) == (422, "cost-amount")
    changed = await api.patch(path, {"trip": {**trip, "distance": "50.5"}})
    assert changed["amount"] == "15.15"
    noted = await api.patch(path, {"note": "with the trailer"})
    assert (noted["amount"], noted["trip"]) == ("15.15", changed["trip"])
    plain = await api.patch(path, {"amount": "5.00", "trip": None})
    assert (plain["amount"], plain["trip"]) == ("5.00", None)
    assert (await api.patch(path, {"trip": trip}))["amount"] == "30.00"


async def test_a_cost_is_shared_by_days_and_follows_every_change(api: Client) -> None:
    two, one, other = await events(api, 2, 1, 1)
    body = {
        "kind": "lodging",
        "amount": "100.00",
        "tax": "16.67",
        "split": {"by": "days", "events": [{"event_id": two["id"]}, {"event_id": one["id"]}]},
    }
    cost = await api.post("/v1/costs", body)
    parts = [(part["share"], part["amount"], part["tax"]) for part in cost["split"]["parts"]]
    assert parts == [(2, "66.67", "11.11"), (1, "33.33", "5.56")]
    assert await told(api, one, "lodging") == (
        "33.33",
        [("-33.33", "lodging; part of 100.00 for 2 events, by days, 1 of 3")],
    )
    whole = "lodging; part of 100.00 for 2 events, by days, 2 of 3; equally over 2 days"
    assert await told(api, two, "lodging") == ("66.67", [("-33.34", whole), ("-33.33", whole)])
    path = f"/v1/costs/{cost['id']}"
    for event in (two, one):
        [listed] = (await api.get(f"/v1/costs?event={event['id']}"))["data"]
        assert listed == cost
    assert (await api.get(f"/v1/costs?event={other['id']}"))["data"] == []

    await api.patch(path, {"amount": "100.01"})
    assert [(await told(api, event, "lodging"))[0] for event in (two, one)] == ["66.67", "33.34"]
    await api.patch(f"/v1/events/{one['id']}", {"ends_on": "2026-06-10"})
    assert [(await told(api, event, "lodging"))[0] for event in (two, one)] == ["50.01", "50.00"]
    shares = [{"event_id": two["id"], "share": 3}, {"event_id": other["id"], "share": 1}]
    await api.patch(path, {"split": {"by": "shares", "events": shares}})
    sums = [(await told(api, event, "lodging"))[0] for event in (two, one, other)]
    assert sums == ["75.01", "none", "25.00"]

    taken = await api.ask("DELETE", f"/v1/events/{other['id']}", If_Match="*")
    assert (taken.status_code, kind_of(taken)) == (409, "in-use")
    alone = await api.patch(path, {"split": None, "event_id": other["id"]})
    assert alone["split"] is None
    assert (await told(api, other, "lodging"))[0] == "100.01"
    equal = {"by": "equal", "events": [{"event_id": two["id"]}, {"event_id": one["id"]}]}
    await api.patch(path, {"split": equal, "event_id": None})
    assert [(await told(api, event, "lodging"))[0] for event in (two, one)] == ["50.01", "50.00"]
    assert (await api.ask("DELETE", path, If_Match="*")).status_code == 204
    assert [(await told(api, event, "lodging"))[0] for event in (two, one)] == ["none", "none"]


async def test_a_shared_trip_says_both_and_the_year_has_it_once(api: Client) -> None:
    first, second = await events(api, 1, 1)
    body = {
        "kind": "travel",
        "trip": {"distance": "33.7", "unit": "km", **OWN},
        "split": {"by": "equal", "events": [{"event_id": e["id"]} for e in (first, second)]},
    }
    cost = await api.post("/v1/costs", body)
    assert cost["amount"] == "10.11"
    words = "travel; 33.7 km x 0.30 = 10.11 (our tax adviser, from 2026-01-01); part of 10.11 for "
    [line] = (await told(api, first, "travel"))[1]
    assert line == ("-5.06", f"{words}2 events, in equal parts")
    [line] = (await told(api, second, "travel"))[1]
    assert line == ("-5.05", f"{words}2 events, in equal parts")
    year = await api.get("/v1/years/2026")
    assert year["totals"]["whole"]["costs"] == "-10.11"
    by_event = {one["name"]: one["costs"] for one in year["totals"]["events"]}
    assert by_event == {"Fair 1": "-5.06", "Fair 2": "-5.05"}


def kind_of(answer: Any) -> str:  # noqa: ANN401 - an answer
    return str(answer.json()["type"].rpartition("/")[2])


TRIP = {"distance": "100", "unit": "km"}
WRONG: list[tuple[dict[str, Any], str, str]] = [
    ({}, "cost-amount", "Give an amount, or a trip"),
    ({"amount": "5.00", "trip": {**TRIP, **OWN}}, "cost-amount", "the trip or an amount"),
    ({"trip": {**TRIP}, "spent_on": "2026-05-09"}, "mileage-rate", "in EUR per km"),
    ({"trip": {**TRIP, "unit": "mi"}, "spent_on": "2026-05-09"}, "mileage-rate", "EUR per mi"),
    ({"trip": {**TRIP}}, "mileage-rate", "give spent_on"),
    ({"trip": {**TRIP, "published": "UK car"}, "spent_on": "2026-05-09"}, "mileage-rate", "UK car"),
    ({"trip": {**TRIP, "rate": "0.30"}}, "mileage-rate", "rate_source"),
    ({"trip": {**TRIP, **OWN, "rate": "0.00"}}, "mileage-rate", "more than 0"),
    ({"trip": {**TRIP, **OWN, "rate": "-0.30"}}, "mileage-rate", "more than 0"),
    ({"trip": {**TRIP, **OWN}, "spent_on": "2025-12-31"}, "mileage-rate", "holds from 2026-01-01"),
    ({"trip": {**TRIP, **OWN, "published": "UK car"}}, "mileage-rate", "not both"),
    ({"trip": {**TRIP, "rate_source": "x"}, "spent_on": "2026-05-09"}, "mileage-rate", "your own"),
    ({"trip": {**TRIP, **OWN, "distance": "-100"}}, "distance", "more than 0"),
    ({"trip": {**TRIP, **OWN, "distance": "0"}}, "distance", "more than 0"),
    ({"trip": {**TRIP, **OWN, "distance": "100000.1"}}, "distance", "at most 100000 km"),
    ({"trip": {**TRIP, **OWN, "unit": "furlong"}}, "invalid-input", "km or mi"),
    ({"trip": {**TRIP, **OWN, "distance": 100}}, "invalid-input", "text"),
    ({"trip": {**TRIP, **OWN, "distance": "1.25"}}, "invalid-input", "a tenth at most"),
    ({"trip": {**TRIP, **OWN, "rate": "0.300001"}}, "invalid-input", "smallest coin of EUR"),
    ({"trip": {**TRIP, **OWN, "rate": "cheap"}}, "invalid-input", "per kilometre or mile"),
]


async def test_a_cost_that_makes_no_sense_is_refused_in_words(
    api: Client, subtests: pytest.Subtests
) -> None:
    for body, kind, words in WRONG:
        with subtests.test(str(body)):
            answer = await api.ask("POST", "/v1/costs", {"kind": "travel", **body})
            said = answer.json()
            assert (answer.status_code, kind_of(answer)) == (422, kind)
            assert words in said["detail"] + str(said.get("errors", ""))
    assert (await api.get("/v1/costs"))["data"] == []


async def test_a_split_that_makes_no_sense_is_refused_in_words(
    api: Client, subtests: pytest.Subtests
) -> None:
    first, second = ({"event_id": event["id"]} for event in await events(api, 1, 1))
    nobody = {"event_id": NOBODY}
    wrong: list[tuple[str, list[Any], dict[str, Any], str, str]] = [
        ("equal", [first], {}, "cost-split", "2 to 50 events"),
        ("equal", [], {}, "invalid-input", "length"),
        ("equal", [first, first], {}, "cost-split", "twice"),
        ("equal", [first, second], first, "cost-split", "one event (event_id)"),
        ("shares", [first, second], {}, "cost-split", "needs its share"),
        ("days", [{**first, "share": 2}, second], {}, "cost-split", "not days"),
        ("shares", [{**first, "share": 0}, {**second, "share": 1}], {}, "invalid-input", ">= 1"),
        ("halves", [first, second], {}, "invalid-input", "days or equal or shares"),
        ("equal", [first, nobody], {}, "unknown-reference", "#/split/events/1/event_id"),
    ]
    for by, sharers, more, kind, words in wrong:
        with subtests.test(f"{by} {sharers} {more}"):
            split = {"by": by, "events": sharers}
            body = {"kind": "food", "amount": "9.00", "split": split, **more}
            answer = await api.ask("POST", "/v1/costs", body)
            said = answer.json()
            assert (answer.status_code, kind_of(answer)) == (422, kind)
            assert words in said["detail"] + str(said.get("errors", ""))
    assert (await api.get("/v1/costs"))["data"] == []


async def test_another_shops_events_bear_nothing(api: Client, canada: Client) -> None:
    [own], [theirs] = await events(api, 1), await events(canada, 1)
    split = {"by": "equal", "events": [{"event_id": own["id"]}, {"event_id": theirs["id"]}]}
    answer = await api.ask("POST", "/v1/costs", {"kind": "food", "amount": "9.00", "split": split})
    assert (answer.status_code, kind_of(answer)) == (422, "unknown-reference")


async def upload(api: Client, event: Any, total: str) -> Any:  # noqa: ANN401 - JSON
    """Take in a list of receipts with one line."""
    header = "Date,Receipt no,Category,Total,VAT,Note\n"
    answer = await api.http.post(
        "/v1/imports",
        content=f"{header}2026-05-09,R-1,Lodging,{total},,one night for both fairs\n".encode(),
        params={"event": event["id"], "importer": "expenses"},
        headers={"Content-Type": "text/csv"},
    )
    assert answer.status_code == 201, answer.text
    return answer.json()


async def test_a_receipt_that_comes_again_changed_changes_every_part(api: Client) -> None:
    first, second = await events(api, 1, 1)
    await upload(api, first, "90.00")
    [cost] = (await api.get(f"/v1/costs?event={first['id']}"))["data"]
    split = {"by": "equal", "events": [{"event_id": e["id"]} for e in (first, second)]}
    await api.patch(f"/v1/costs/{cost['id']}", {"event_id": None, "split": split})
    again = await upload(api, first, "91.01")
    assert (again["taken"], again["changed"]) == (1, 1)
    assert [(await told(api, event, "lodging"))[0] for event in (first, second)] == [
        "45.51",
        "45.50",
    ]
    undone = await api.ask("DELETE", f"/v1/imports/{cost['import_id']}")
    assert undone.status_code == 200, undone.text
    assert [(await told(api, event, "lodging"))[0] for event in (first, second)] == [
        "none",
        "none",
    ]


async def test_trips_entered_at_the_same_time_each_count_once(canada: Client) -> None:
    # 5,000 km at 0.73 and 1,000 at 0.67, whichever of the six trips comes last.
    body = {
        "kind": "travel",
        "spent_on": "2026-05-09",
        "trip": {"distance": "1000", "unit": "km"},
    }
    await asyncio.gather(*(canada.post("/v1/costs", body) for _ in range(6)))
    costs = (await canada.get("/v1/costs"))["data"]
    assert sorted(cost["amount"] for cost in costs) == ["670.00"] + ["730.00"] * 5


@pytest.mark.parametrize(("amount", "tax"), [("5.00", "5.01"), ("5.00", "-0.50"), ("-5.00", "0.5")])
async def test_tax_is_a_part_of_the_amount(api: Client, amount: str, tax: str) -> None:
    [event] = await events(api, 1)
    body = {"kind": "parking", "amount": amount, "event_id": event["id"]}
    wrong = await api.ask("POST", "/v1/costs", {**body, "tax": tax.ljust(4, "0")})
    assert wrong.status_code == 422
    kept = await api.post("/v1/costs", body)
    path = f"/v1/costs/{kept['id']}"
    changed = await api.ask("PATCH", path, {"tax": tax.ljust(4, "0")}, If_Match="*")
    assert changed.status_code == 422
    assert "a part of the amount" in changed.json()["detail"]
    assert (await api.get(path))["tax"] is None
    assert len((await api.get("/v1/costs"))["data"]) == 1
