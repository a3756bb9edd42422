"""Prefer: respond-async, wait=… (RFC 7240, sections 4.1 and 4.3) for a file that takes long."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Any

import httpx
import pytest
from tests.api_client import Client
from tests.database import Clone
from tests.evidence_world import World, make_world

from stallkeep.api.app import create_app
from stallkeep.api.prefer import read_prefer
from stallkeep.config import Settings
from stallkeep.store import intake
from stallkeep.store.engine import scope
from stallkeep.work.hand_out_token import hand_out_token
from stallkeep.work.import_later import end_imports

FILE = (
    "Date,Time,Transaction ID,Amount,Currency\n"
    "2026-09-11,10:12:00,p-1,24.00,EUR\n2026-09-11,10:13:00,p-2,68.00,EUR\n"
)
DOUBTFUL = "Date,Transaction ID,Amount,Currency\n04/05/2026,p-1,2.00,EUR\n"
STORED = "select count(*)::int as n from transaction where shop_id = $1"


class Desk:
    """A shop, a client of its service, and a gate that holds every import just before its end."""

    def __init__(self, world: World, http: httpx.AsyncClient, gate: asyncio.Event) -> None:
        self.world = world
        self.http = http
        self.gate = gate

    async def send(self, prefer: str, file: str = FILE) -> httpx.Response:
        headers = {"Prefer": prefer, "Content-Type": "text/csv"}
        query = {"channel": str(self.world.stall), "importer": "card-reader-payments"}
        return await self.http.post("/v1/imports", content=file, params=query, headers=headers)

    async def ended(self, location: str) -> dict[str, Any]:
        for _ in range(200):
            found: dict[str, Any] = (await self.http.get(location)).json()
            if found["state"] != "running":
                return found
            await asyncio.sleep(0.02)
        raise AssertionError("it never ended")

    async def stored(self) -> int:
        number: int = (await self.world.rows(STORED))[0]["n"]
        return number


@pytest.fixture
async def desk(database: Clone, monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Desk]:
    world = await make_world(database.pool)
    async with scope(world.pool, world.shop.shop_id) as con:
        _, token = await hand_out_token(con, world.shop.shop_id, "Ada", "owner")
    client = Client(create_app(Settings(), world.pool), world.pool, world.shop, token)
    gate = asyncio.Event()
    finish = intake.store_rejects

    async def held(*values: Any) -> None:  # noqa: ANN401 - handed on
        await gate.wait()
        await finish(*values)

    monkeypatch.setattr(intake, "store_rejects", held)
    async with client.http as http:
        yield Desk(world, http, gate)
    await end_imports()


async def test_a_large_file_is_answered_before_it_is_taken_in(desk: Desk) -> None:
    answer = await desk.send("respond-async")
    assert answer.status_code == 202, answer.text
    assert answer.headers["preference-applied"] == "respond-async"
    location = answer.headers["location"]
    assert answer.json()["state"] == "running"
    assert location == f"/v1/imports/{answer.json()['id']}"
    assert (await desk.http.get(location)).json()["state"] == "running"
    assert await desk.stored() == 0
    desk.gate.set()
    done = await desk.ended(location)
    assert (done["state"], done["rows_read"], done["taken"]) == ("done", 3, 2)
    assert await desk.stored() == 2


async def test_who_waits_long_enough_is_answered_as_ever(desk: Desk) -> None:
    desk.gate.set()
    answer = await desk.send("respond-async, wait=20")
    assert (answer.status_code, answer.json()["taken"]) == (201, 2)
    assert "preference-applied" not in answer.headers


async def test_a_question_comes_at_once_where_the_asker_waits(desk: Desk) -> None:
    answer = await desk.send("respond-async, wait=20", DOUBTFUL)
    assert answer.status_code == 422
    assert answer.json()["question"]["parameter"] == "date_order"


async def test_a_question_stands_in_the_import_where_nobody_waits(desk: Desk) -> None:
    answer = await desk.send("respond-async", DOUBTFUL)
    assert answer.status_code == 202
    done = await desk.ended(answer.headers["location"])
    assert (done["state"], done["problem"]["code"]) == ("failed", "import-question")
    assert done["problem"]["question"]["parameter"] == "date_order"


async def test_a_service_that_stops_takes_nothing_and_says_so(desk: Desk) -> None:
    answer = await desk.send("respond-async")
    await end_imports()
    found = (await desk.http.get(answer.headers["location"])).json()
    assert (found["state"], found["problem"]["code"]) == ("failed", "interrupted")
    assert await desk.stored() == 0
    desk.gate.set()
    again = await desk.send("respond-async, wait=20")
    assert (again.status_code, again.json()["taken"]) == (201, 2)


@pytest.mark.parametrize(
    ("header", "seconds"),
    [
        (None, None),
        ("", None),
        ("return=minimal", None),
        ("wait=5", None),
        ("respond-async", 0.0),
        ('Respond-Async, wait="5"', 5.0),
        ("respond-async;x=1, wait=5; y=2", 5.0),
        ("wait=5, respond-async", 5.0),
        ("respond-async, wait=forever", 0.0),
        ("respond-async, wait=99999", 60.0),
    ],
)
def test_preferences_are_read_as_the_standard_writes_them(
    header: str | None, seconds: float | None
) -> None:
    assert read_prefer(header) == seconds
