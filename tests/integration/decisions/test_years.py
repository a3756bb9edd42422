"""A year over HTTP, against sums done by hand; every kind of money is in test_result_in_sql.py."""

from __future__ import annotations

import csv
import io
from decimal import Decimal
from typing import Any

import pytest
from tests.api_client import Client
from tests.factories import a_channel, an_item
from tests.trading import a_past_event, a_stall, an_online_channel, sold_online


async def a_year(api: Client) -> None:
    """Two events and an online sale; one cost that belongs to no event."""
    stall, online = await a_stall(api), await an_online_channel(api)
    await a_past_event(api, stall, "2026-05-09", ["40.00", "30.00"], taken=3, name="Quay fair")
    await a_past_event(api, stall, "2026-06-13", ["50.00"], name="Quay fair")
    await a_past_event(api, stall, "2025-06-14", ["99.00"], name="Last year's fair")
    await sold_online(api, online, "60.00", listed_on="2026-05-01", sold_on="2026-05-11")
    cost = {"kind": "supplies", "amount": "7.00", "spent_on": "2026-02-02"}
    await api.post("/v1/costs", cost)


def named(lines: list[Any]) -> dict[str, Any]:
    return {line["name"]: line for line in lines}


async def test_a_year_adds_up_in_every_cut(api: Client) -> None:
    await a_year(api)
    found = await api.get("/v1/years/2026")
    totals = found["totals"]
    # 40 + 30 + 50 + 60; four pieces at 10; pitches 40 + 40 and 7; commission 6.50.
    whole = totals["whole"]
    assert (whole["takings"], whole["pieces"], whole["cost_of_goods"]) == ("180.00", 4, "-40.00")
    assert (whole["fees"], whole["costs"], whole["net"]) == ("-6.50", "-87.00", "46.50")
    assert totals["adds_up"] is True
    months = named(totals["months"])
    assert len(months) == 12
    assert months["2026-02"]["net"] == "-7.00"
    assert months["2026-05"]["net"] == "53.50"  # 130 - 30 - 40 - 6.50
    events = named(totals["events"])
    assert (events["Quay fair"]["net"], events["Quay fair (2026-06-13)"]["net"]) == (
        "10.00",
        "0.00",
    )
    channels = named(totals["channels"])
    assert channels["Tidelist"]["net"] == "43.50"
    assert totals["costs"] == [
        {"kind": "pitch_fee", "amount": "80.00"},
        {"kind": "supplies", "amount": "7.00"},
    ]
    assert "licensed professional" in totals["caution"]


async def test_the_stock_is_what_was_there_at_the_end_of_the_day(api: Client) -> None:
    await a_year(api)  # six pieces acquired at the start of 2025, two more of which one is sold
    early = (await api.get("/v1/years/2025?stock_on=2025-06-13"))["stock"]
    assert (early["pieces"], early["cost"]) == (6, "60.00")  # online piece has no date: was there
    later = (await api.get("/v1/years/2026?stock_on=2026-05-10"))["stock"]
    assert (later["pieces"], later["cost"]) == (3, "30.00")
    await an_item(api, cost=None, acquired_on="2026-05-10", category=None)
    with_new = (await api.get("/v1/years/2026?stock_on=2026-05-10"))["stock"]
    assert (with_new["pieces"], with_new["without_cost"]) == (4, 1)
    assert [line["category"] for line in with_new["categories"]] == ["coats", None]


async def test_what_a_count_misses_is_gone_from_the_stock_and_a_cost(api: Client) -> None:
    stall = await a_stall(api)
    event = await a_past_event(api, stall, "2026-05-09", ["40.00"], taken=2)
    before = await api.get("/v1/years/2026?stock_on=2026-12-31")
    await api.put(f"/v1/events/{event['id']}/count", {"codes": []})
    after = await api.get("/v1/years/2026?stock_on=2026-12-31")
    assert (before["stock"]["pieces"], after["stock"]["pieces"]) == (1, 0)
    assert before["totals"]["whole"]["cost_of_goods"] == "-10.00"
    assert after["totals"]["whole"]["cost_of_goods"] == "-20.00"


async def test_an_empty_year_and_a_wrong_one(api: Client) -> None:
    empty = await api.get("/v1/years/2024")
    assert empty["totals"]["whole"]["net"] == "0.00"
    assert empty["notes"] == []
    for path, status in [
        ("/v1/years/12", 422),
        ("/v1/years/99999", 422),
        ("/v1/years/last", 404),
        ("/v1/years/2026?stock_on=today", 400),
    ]:
        assert (await api.ask("GET", path)).status_code == status, path


async def table(api: Client, path: str) -> list[dict[str, str]]:
    answer = await api.ask("GET", f"/v1/years/{path}")
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"].startswith("text/csv")
    return list(csv.DictReader(io.StringIO(answer.text, newline="")))


async def test_a_year_is_taken_away_as_csv(api: Client) -> None:
    await a_year(api)
    *rows, last = await table(api, "2026/totals.csv")
    by_part: dict[str, list[dict[str, str]]] = {}
    for row in rows:
        by_part.setdefault(row["part"], []).append(row)
    assert {part: len(found) for part, found in by_part.items()} == {
        "year": 1,
        "month": 12,
        "channel": 3,  # one for what belongs to none
        "event": 3,
    }
    [whole] = by_part["year"]
    assert (whole["takings"], whole["costs"], whole["net"]) == ("180.00", "-87.00", "46.50")
    for part in ("month", "channel", "event"):
        for column in ("takings", "fees", "cost_of_goods", "costs", "tax", "net"):
            amounts = [Decimal(row[column]) for row in by_part[part]]
            assert sum(amounts) == Decimal(whole[column]), (part, column)
    assert last["part"] == "caution"
    assert "licensed professional" in last["name"]


async def test_costs_and_stock_are_taken_away_as_csv(api: Client) -> None:
    await a_year(api)
    costs = await table(api, "2026/costs.csv")
    assert [(row["kind"], row["amount"]) for row in costs[:-1]] == [
        ("pitch_fee", "80.00"),
        ("supplies", "7.00"),
    ]
    stock = await table(api, "2026/stock.csv?stock_on=2026-05-10")
    assert [(row["category"], row["on"], row["pieces"], row["cost"]) for row in stock[:-1]] == [
        ("coats", "2026-05-10", "3", "30.00"),
        ("", "2026-05-10", "3", "30.00"),
    ]


async def test_no_name_in_a_year_s_csv_runs_as_a_formula(api: Client) -> None:
    stall = await a_channel(api, name="=HYPERLINK(1)")
    await a_past_event(api, stall, "2026-05-09", ["40.00"], name="@fair", category="+coats")
    await an_item(api, category="-hats", acquired_on="2026-01-01")
    names = {row["name"] for row in await table(api, "2026/totals.csv")}
    assert {"'=HYPERLINK(1)", "'@fair"} <= names
    stock = await table(api, "2026/stock.csv?stock_on=2026-12-31")
    assert "'-hats" in {row["category"] for row in stock}


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("2026/takings.csv", 404),
        ("2026/totals", 404),
        ("9999/totals.csv", 422),
        ("2026/stock.csv?stock_on=31.12.2026", 400),
    ],
)
async def test_a_file_of_a_year_that_is_not_there_is_refused(
    api: Client, path: str, status: int
) -> None:
    answer = await api.ask("GET", f"/v1/years/{path}")
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
