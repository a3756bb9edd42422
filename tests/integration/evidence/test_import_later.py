"""Prefer: respond-async, wait=… (RFC 7240, sections 4.1 and 4.3) for a file that takes long."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Any

import asyncpg
import httpx
import pytest
from tests.database import Clone
from tests.desk import owner_client
from tests.evidence_world import World, make_world

from stallkeep.api.prefer import read_prefer
from stallkeep.store import intake
from stallkeep.work import import_later as later
from stallkeep.work.import_file import AT_ONCE
from stallkeep.work.import_later import end_imports
from stallkeep.work.read_import import settle_dead_imports

FILE = (
    "Date,Time,Transaction ID,Amount,Currency\n"
    "2026-09-11,10:12:00,p-1,24.00,EUR\n2026-09-11,10:13:00,p-2,68.00,EUR\n"
)
DOUBTFUL = "Date,Transaction ID,Amount,Currency\n04/05/2026,p-1,2.00,EUR\n"
END_HOLDER = """
select count(pg_terminate_backend(pid)) from pg_stat_activity
 where datname = current_database() and state = 'idle' and pid in
       (select pid from pg_locks where locktype = 'advisory')
"""
HELD = """
select count(*)::int as n from pg_locks join pg_database d on d.oid = database
 where locktype = 'advisory' and datname = current_database() and $1::uuid is not null
"""
STORED = "select count(*)::int as n from transaction where shop_id = $1"


class Desk:
    """A shop, a client of its service, and a gate that holds every import just before its end."""

    def __init__(
        self, database: Clone, world: World, http: httpx.AsyncClient, gate: asyncio.Event
    ) -> None:
        self.admin_url = database.admin_url
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
    client = await owner_client(world)
    gate = asyncio.Event()
    finish = intake.store_rejects

    async def held(*values: Any) -> None:  # noqa: ANN401 - handed on
        await gate.wait()
        await finish(*values)

    monkeypatch.setattr(intake, "store_rejects", held)
    async with client.http as http:
        yield Desk(database, world, http, gate)
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
    if answer.status_code != 202:  # it was asked before the answer was on its way
        assert answer.json()["question"]["parameter"] == "date_order"
        return
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


async def _fill(desk: Desk) -> list[str]:
    """Have as many imports running as run at once; gives where they are."""
    answers = [await desk.send("respond-async", _file(number)) for number in range(AT_ONCE)]
    return [answer.headers["location"] for answer in answers]


def _file(number: int) -> str:
    return FILE.replace("p-1", f"p-1-{number}").replace("p-2", f"p-2-{number}")


async def test_a_file_is_accepted_at_once_whatever_is_running(desk: Desk) -> None:
    running = await _fill(desk)
    async with asyncio.timeout(5):
        waiting = [await desk.send("respond-async", _file(number)) for number in range(3, 6)]
    assert [answer.status_code for answer in waiting] == [202] * 3
    places = [*running, *(answer.headers["location"] for answer in waiting)]
    assert await settle_dead_imports(desk.world.pool, desk.world.shop.shop_id) == []
    for place in places:
        assert (await desk.http.get(place)).json()["state"] == "running"
    desk.gate.set()
    assert [(await desk.ended(place))["taken"] for place in places] == [2] * 6
    assert await desk.stored() == 12


async def test_a_file_that_nobody_could_read_is_not_accepted(desk: Desk) -> None:
    await _fill(desk)
    query = {"channel": str(desk.world.stall)}
    headers = {"Prefer": "respond-async", "Content-Type": "text/csv"}
    async with asyncio.timeout(5):
        answer = await desk.http.post(
            "/v1/imports", content=b"\x00\x01", params=query, headers=headers
        )
    assert (answer.status_code, answer.json()["reason_code"]) == (422, "unknown-file")


async def test_a_service_that_stops_says_so_of_files_that_wait_too(desk: Desk) -> None:
    await _fill(desk)
    waiting = await desk.send("respond-async")
    await end_imports()
    found = (await desk.http.get(waiting.headers["location"])).json()
    assert (found["state"], found["problem"]["code"]) == ("failed", "interrupted")
    assert await desk.stored() == 0


async def test_a_file_given_up_by_a_reader_is_not_taken_behind_its_back(desk: Desk) -> None:
    running = await _fill(desk)
    place = (await desk.send("respond-async")).headers["location"]
    await _lose_the_connection_that_holds_names(desk)
    found = (await desk.http.get(place)).json()
    assert (found["state"], found["problem"]["code"]) == ("failed", "interrupted")
    desk.gate.set()
    for other in running:
        await desk.ended(other)
    await desk.send("respond-async, wait=20", _file(9))
    assert (await desk.http.get(place)).json()["state"] == "failed"
    assert await desk.stored() == 8


async def test_names_of_a_lost_connection_are_held_again(desk: Desk) -> None:
    await _fill(desk)
    place = (await desk.send("respond-async")).headers["location"]
    await _lose_the_connection_that_holds_names(desk)
    await desk.send("respond-async", _file(9))
    assert (await desk.http.get(place)).json()["state"] == "running"
    desk.gate.set()
    assert (await desk.ended(place))["taken"] == 2


async def _lose_the_connection_that_holds_names(desk: Desk) -> None:
    con = await asyncpg.connect(desk.admin_url)
    try:
        assert await con.fetchval(END_HOLDER) == 1
    finally:
        await con.close()
    await asyncio.sleep(0.1)


async def test_more_files_than_are_kept_are_refused_with_503(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(later, "MOST_AT_A_TIME", 3)
    await _fill(desk)
    answer = await desk.send("respond-async")
    assert answer.status_code == 503
    assert answer.json()["type"].endswith("/too-many-imports-waiting")
    desk.gate.set()


async def test_no_connection_is_kept_once_nothing_is_under_way(desk: Desk) -> None:
    desk.gate.set()
    for place in await _fill(desk):
        await desk.ended(place)
    pool = desk.world.pool
    async with asyncio.timeout(20):
        while pool.get_idle_size() < pool.get_size():
            await asyncio.sleep(0.02)
    assert (await desk.world.rows(HELD))[0]["n"] == 0


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
