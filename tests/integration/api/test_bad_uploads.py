"""Files sent in a wrong way have a problem of their own, and nothing of them is taken."""

from __future__ import annotations

import asyncio
import json
import tempfile
from collections.abc import AsyncIterator, Callable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

import asyncpg
import httpx
import pytest
from structlog.testing import capture_logs
from tests.api_client import Client
from tests.database import Clone
from tests.factories import a_channel

FILE = b"Date,Time,Transaction ID,Amount,Currency\n2026-09-11,10:12:00,p-1,24.00,EUR\n"
NOBODY = "019f1c2e-7b1a-7c3d-9e4f-5a6b7c8d9e0f"
CSV = {"Content-Type": "text/csv"}


async def _send(
    api: Client,
    headers: Mapping[str, str] = MappingProxyType(CSV),
    params: Mapping[str, str] = MappingProxyType({}),
) -> httpx.Response:
    channel = (await a_channel(api))["id"]
    query = {"channel": channel, "importer": "card-reader-payments", **params}
    return await api.http.post("/v1/imports", content=FILE, params=query, headers=dict(headers))


def _problem(answer: httpx.Response, status: int, kind: str = "about:blank") -> dict[str, Any]:
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    said: dict[str, Any] = answer.json()
    assert said["type"].rpartition("/")[2] == kind
    return said


async def test_a_form_with_the_file_in_it_is_415_and_says_how(api: Client) -> None:
    answer = await api.http.post("/v1/imports", files={"file": ("card.csv", FILE)})
    assert "--data-binary" in _problem(answer, 415)["detail"]
    assert (await api.get("/v1/imports"))["data"] == []


@pytest.mark.parametrize("coding", ["gzip", "br", "x-own"])
async def test_a_packed_body_is_415(api: Client, coding: str) -> None:
    # RFC 9110, 15.5.16: 415 is for content codings too, and Accept-Encoding says which are known.
    answer = await _send(api, {**CSV, "Content-Encoding": coding})
    _problem(answer, 415)
    assert answer.headers["accept-encoding"] == "identity"
    assert (await _send_plain(api)).status_code == 201


async def _send_plain(api: Client) -> httpx.Response:
    channels = (await api.get("/v1/channels"))["data"]
    query = {"channel": channels[0]["id"], "importer": "card-reader-payments"}
    headers = {"Content-Encoding": "identity"}
    return await api.http.post("/v1/imports", content=FILE, params=query, headers=headers)


@pytest.mark.parametrize("place", ["channel", "event"])
async def test_an_unknown_place_is_named(api: Client, place: str) -> None:
    said = _problem(await _send(api, params={place: NOBODY}), 422, "place-unknown")
    assert [error["parameter"] for error in said["errors"]] == [place]
    assert NOBODY in said["detail"]


NO_ROOM = """
create function refuse() returns trigger language plpgsql as
'begin raise exception using errcode = ''{errcode}'', message = ''no space left''; end';
create trigger refuse before insert on item execute function refuse();
create trigger refuse before insert on transaction execute function refuse();
"""
NUL = json.dumps({"languages": ["\0"]})


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("file_name", "a\0b"),
        ("importer", "a\0b"),
        ("answers", NUL),
        ("columns", json.dumps({"amount": "a\0"})),
        ("columns", json.dumps({"a\0": "Amount"})),
    ],
)
async def test_a_nul_is_refused_where_it_is(api: Client, name: str, value: str) -> None:
    said = _problem(await _send(api, params={name: value}), 400)
    assert said["errors"] == [{"detail": "Expected text without NUL characters", "parameter": name}]


async def test_a_query_that_is_no_text_is_400(api: Client) -> None:
    _problem(await api.http.get("/v1/items?category=%ff%fe"), 400)


FULL = Path("/dev/full")


@pytest.mark.skipif(not FULL.exists(), reason="there is no device that is always full")
async def test_a_full_disk_is_503_and_says_so(api: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: Callable[..., Any] = lambda **_: FULL.open("w+b", buffering=0)  # noqa: E731
    monkeypatch.setattr(tempfile, "SpooledTemporaryFile", opened)
    said = _problem(await _send(api), 503, "no-room-for-file")
    assert "No space left on device" in said["detail"]
    monkeypatch.undo()
    assert (await _send_plain(api)).json()["taken"] == 1


@pytest.fixture
async def full(api: Client, database: Clone) -> AsyncIterator[Client]:
    """The shop, in a database that has no room for items and transactions."""
    con = await asyncpg.connect(database.admin_url)
    await con.execute(NO_ROOM.format(errcode="disk_full"))
    yield api
    await con.close()


async def test_a_full_database_is_503_and_nothing_is_half_taken(full: Client) -> None:
    _problem(await full.ask("POST", "/v1/items", {"title": "Coat"}), 503, "database-has-no-room")
    _problem(await _send(full), 503, "database-has-no-room")
    assert (await full.get("/v1/transactions"))["data"] == []
    [failed] = (await full.get("/v1/imports"))["data"]
    assert (failed["state"], failed["problem"]["code"]) == ("failed", "database-has-no-room")


async def test_a_failure_nobody_foresaw_is_written_down_and_logged_where_nobody_waits(
    api: Client, database: Clone
) -> None:
    con = await asyncpg.connect(database.admin_url)
    await con.execute(NO_ROOM.format(errcode="internal_error"))
    await con.close()
    with capture_logs() as logs:
        answer = await _send(api, {**CSV, "Prefer": "respond-async"})
        async with asyncio.timeout(20):
            while "import_failed" not in [one["event"] for one in logs]:
                await asyncio.sleep(0.02)
            while (found := await api.get(answer.headers["location"]))["state"] == "running":
                await asyncio.sleep(0.02)
    assert (found["state"], found["problem"]["code"]) == ("failed", "failed")
