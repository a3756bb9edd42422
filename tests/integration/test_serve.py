"""The running service when its database or itself is killed or stopped."""

from __future__ import annotations

import json
import os
import signal
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.embedded import lives, open_folder, postmaster
from tests.serving import Service, made_shop, serving

from stallkeep.store.engine import GONE_MEANWHILE, NOT_REACHED

ROWS = 60_000
AT_ONCE = 3


@pytest.fixture
def folder() -> Iterator[Path]:
    with open_folder() as made:
        yield made / "data"


@pytest.fixture
async def token(folder: Path) -> str:
    return (await made_shop(folder))[1]


def test_a_killed_database_comes_back_and_meanwhile_the_answer_is_503(
    folder: Path, token: str
) -> None:
    with serving(folder, token) as service:
        assert service.http.get("/v1/shop").status_code == 200
        killed = postmaster(folder)
        os.kill(killed, signal.SIGKILL)
        # a connection may outlive its server by a moment, and answer
        problem = service.until("/v1/shop", status=503)
        service.until("/v1/shop", name="Harbour Mending")
        assert lives(postmaster(folder))
        assert postmaster(folder) != killed
        said = service.until_said("embedded_database_started_again")
        assert service.end() == 0
    assert problem["type"].endswith("/database-unavailable")
    assert problem["title"] == "The database does not answer"
    assert problem["detail"] in {NOT_REACHED, GONE_MEANWHILE}
    assert (
        said.count("embedded_database_gone") == said.count("embedded_database_started_again") == 1
    )
    assert "Traceback" not in said
    assert not (folder / "postgres/postmaster.pid").exists(), "it is stopped with the service"


def _export(number: int, rows: int = ROWS) -> bytes:
    head = "Date,Time,Transaction ID,Amount,Currency\n"
    lines = (
        f"2026-09-{1 + row % 28:02},10:{row // 60 % 60:02}:{row % 60:02},"
        f"p-{number}-{row},{1 + row % 90}.50,EUR\n"
        for row in range(rows)
    )
    return (head + "".join(lines)).encode()


def _send(service: Service, channel: str, file: bytes, prefer: str = "respond-async") -> str:
    answer = service.http.post(
        "/v1/imports",
        content=file,
        params={"channel": channel, "importer": "card-reader-payments"},
        headers={"Prefer": prefer, "Content-Type": "text/csv"},
    )
    assert answer.status_code in {201, 202}, answer.text
    place: str = answer.headers["location"]
    return place


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL])
def test_imports_of_a_service_that_ends_are_failed_whole_and_can_be_sent_again(
    folder: Path, token: str, how: signal.Signals
) -> None:
    with serving(folder, token) as service:
        [channel] = [one["id"] for one in service.http.get("/v1/channels").json()["data"]]
        places = [_send(service, channel, _export(number)) for number in range(AT_ONCE)]
        waiting = _send(service, channel, _export(9, 2))
        assert service.http.get(waiting).json()["state"] == "running"
        assert service.end(how) == (0 if how == signal.SIGTERM else -how)
        assert "Traceback" not in service.said()
    with serving(folder, token) as service:
        listed = {one["id"]: one for one in service.http.get("/v1/imports").json()["data"]}
        states = [listed[place.rpartition("/")[2]] for place in [*places, waiting]]
        assert [(one["state"], one["problem"]["code"]) for one in states] == [
            ("failed", "interrupted")
        ] * 4
        assert service.http.get("/v1/transactions").json()["data"] == []
        again = _send(service, channel, _export(9, 2), "")
        assert service.http.get(again).json()["taken"] == 2
        assert service.end() == 0


HEAD = "Host: localhost\r\nAuthorization: Bearer {token}\r\n"
NO_HTTP = {
    "no HTTP at all": b"\x16\x03\x01 hello\r\n\r\n",
    "an endless address": b"GET /v1/items?category=" + b"a" * 200_000 + b" HTTP/1.1\r\n\r\n",
    "a length below nothing": b"POST /v1/items HTTP/1.1\r\nContent-Length: -5\r\n\r\n",
    "a NUL in a header": b"GET /v1/shop HTTP/1.1\r\nIdempotency-Key: a\0b\r\n\r\n",
}


def test_what_is_no_http_is_a_problem_and_half_a_body_is_nothing(folder: Path, token: str) -> None:
    with serving(folder, token) as service:
        for what, sent in NO_HTTP.items():
            head, _, body = _raw(service, sent).partition(b"\r\n\r\n")
            assert head.startswith(b"HTTP/1.1 400 "), what
            assert b"content-type: application/problem+json" in head, what
            assert json.loads(body)["status"] == 400, what
        start = f"POST /v1/imports HTTP/1.1\r\n{HEAD.format(token=token)}".encode()
        _raw(service, start + b"Content-Length: 500\r\n\r\nDate,Amount", hang_up=True)
        _raw(service, start + b"Transfer-Encoding: chunked\r\n\r\n4a\r\nDate", hang_up=True)
        time.sleep(0.5)
        assert service.http.get("/v1/imports").json()["data"] == []
        assert service.end() == 0
        said = service.said()
    assert said.count("status=400") == 2
    assert "status=500" not in said
    assert "Traceback" not in said


def _raw(service: Service, sent: bytes, *, hang_up: bool = False) -> bytes:
    url = service.http.base_url
    with socket.create_connection((url.host, url.port or 0), timeout=10) as line:
        line.sendall(sent)
        answer = b""
        while not hang_up and (piece := line.recv(65536)):
            answer += piece
    return answer
