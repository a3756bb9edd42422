"""The embedded server is looked after while the service runs on it."""

from __future__ import annotations

import asyncio
import logging
import os
import shutil
import signal
import tempfile
from collections import Counter
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from pathlib import Path
from uuid import uuid4

import asyncpg
import pytest
from structlog.testing import capture_logs
from tests.api_client import Client, serve_shop
from tests.embedded import open_folder, postmaster

from stallkeep.store import embedded_watch
from stallkeep.store.database import NAME
from stallkeep.store.embedded import Server, embedded_server
from stallkeep.store.embedded_programs import EmbeddedServerError
from stallkeep.store.embedded_watch import keep_running
from stallkeep.store.engine import (
    DatabaseUnavailableError,
    Pool,
    ending_with,
    open_pool,
    scope,
    telling_loss,
)
from stallkeep.store.migrate import migrate
from stallkeep.store.roles import APP

QUICK = {"fsync": "off"}


@pytest.fixture
def folder() -> Iterator[Path]:
    with open_folder() as made:
        yield made


@pytest.fixture(autouse=True)
def _hurry(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(embedded_watch, "LOOK_SECONDS", 0.02)
    monkeypatch.setattr(embedded_watch, "PAUSES_SECONDS", (0.0, 0.0, 0.0))


@asynccontextmanager
async def _watched(server: Server) -> AsyncIterator[asyncio.Task[None]]:
    watch: asyncio.Task[None] = asyncio.create_task(keep_running(server))
    try:
        yield watch
    finally:
        watch.cancel()
        await asyncio.wait({watch})


async def _answers(server: Server, other_than: int) -> int:
    """Wait for a server with another number than the last; gives its number."""
    async with asyncio.timeout(20):
        while True:
            await asyncio.sleep(0.02)
            try:
                con = await asyncpg.connect(server.url())
            except (OSError, asyncpg.PostgresError):
                continue
            await con.close()
            if (now := postmaster(server.cluster.folder)) != other_than:
                return now


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGQUIT, signal.SIGINT])
async def test_a_server_that_is_gone_is_started_where_it_was(
    folder: Path, how: signal.Signals
) -> None:
    with embedded_server(folder, QUICK) as server, capture_logs() as logs:
        async with _watched(server):
            before = postmaster(folder)
            os.kill(before, how)
            await _answers(server, before)
            async with asyncio.timeout(20):
                while len(logs) < 2:
                    await asyncio.sleep(0.02)
    assert [one["event"] for one in logs] == [
        "embedded_database_gone",
        "embedded_database_started_again",
    ]


async def test_it_is_started_where_its_users_look_for_it(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with embedded_server(folder, QUICK) as server:
        before = postmaster(folder)
        with monkeypatch.context() as here:
            here.setattr(tempfile, "gettempdir", lambda: str(folder))
            async with _watched(server):
                os.kill(before, signal.SIGKILL)
                await _answers(server, before)


async def test_after_so_many_starts_it_gives_up(folder: Path) -> None:
    with embedded_server(folder, QUICK) as server, capture_logs() as logs:
        async with _watched(server) as watch:
            last = postmaster(folder)
            for _ in range(3):
                os.kill(last, signal.SIGKILL)
                last = await _answers(server, last)
            os.kill(last, signal.SIGKILL)
            with pytest.raises(EmbeddedServerError, match="started again 3 times, in vain"):
                await asyncio.wait_for(watch, 10)
    assert [one["start"] for one in logs if one["event"] == "embedded_database_gone"] == [1, 2, 3]


async def test_tries_are_counted_anew_once_it_has_run_for_a_while(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(embedded_watch, "STEADY_SECONDS", 0.1)
    with embedded_server(folder, QUICK) as server:
        async with _watched(server):
            last = postmaster(folder)
            for _ in range(5):
                os.kill(last, signal.SIGKILL)
                last = await _answers(server, last)
                await asyncio.sleep(0.3)


async def test_a_folder_that_was_removed_is_not_made_anew(folder: Path) -> None:
    data = folder / "data"
    with embedded_server(data, QUICK) as server, capture_logs() as logs:
        async with _watched(server) as watch:
            os.kill(postmaster(data), signal.SIGKILL)
            shutil.rmtree(data / "postgres")
            with pytest.raises(EmbeddedServerError, match="in vain"):
                await asyncio.wait_for(watch, 10)
        assert not (data / "postgres").exists()
    reasons = {one.get("reason") for one in logs}
    assert f"the database in {data} has been removed" in reasons


async def test_whatever_the_moment_of_an_outage_the_answer_is_503(
    folder: Path, caplog: pytest.LogCaptureFixture
) -> None:
    seen: Counter[int] = Counter()
    with embedded_server(folder, QUICK) as server:
        await migrate(server.url(database=NAME))
        async with (
            asyncio.timeout(60),
            open_pool(server.url(APP, NAME)) as pool,
            serve_shop(pool) as api,
        ):
            for how in (signal.SIGKILL, signal.SIGQUIT) * 3:
                asking = [asyncio.create_task(_ask_on(api, seen)) for _ in range(3)]
                await _more_of(seen, 201)
                os.kill(postmaster(folder), how)
                await _more_of(seen, 503)
                for one in asking:
                    one.cancel()
                await asyncio.wait(asking)
                await asyncio.to_thread(server.revive)
    assert seen.keys() == {200, 201, 503}
    assert [record for record in caplog.records if record.levelno >= logging.WARNING] == []


async def _more_of(seen: Counter[int], status: int) -> None:
    before = seen[status]
    while seen[status] < before + 5:
        await asyncio.sleep(0.01)


async def _ask_on(api: Client, seen: Counter[int]) -> None:
    while True:
        seen[(await api.ask("GET", "/v1/shop")).status_code] += 1
        made = await api.ask("POST", "/v1/items", {"title": "Coat"})
        await asyncio.sleep(0.001)  # a server that is not there refuses without a wait
        seen[made.status_code] += 1
        if made.status_code == 503:
            problem = made.json()
            assert problem["title"] == "The database does not answer"
            assert problem["detail"].startswith("It ")


async def _without_end() -> AsyncIterator[bytes]:
    while True:
        yield b"x" * 100_000 + b"\n"


async def _copy_to_a_server_that_dies(pool: Pool) -> None:
    async with scope(pool, uuid4()) as con, ending_with(con):
        reader = await con.fetchval("select pg_backend_pid()")
        await con.execute("create temp table slow (line text) on commit drop")
        os.kill(reader, signal.SIGSTOP)
        asyncio.get_running_loop().call_later(0.5, os.kill, reader, signal.SIGKILL)
        await con.copy_to_table("slow", source=_without_end(), columns=["line"])


async def test_a_copy_that_the_server_no_longer_reads_ends_with_its_connection(
    folder: Path,
) -> None:
    """The driver waits for ever where the server dies while it takes no more bytes."""
    with embedded_server(folder, QUICK) as server:
        await migrate(server.url(database=NAME))
        async with open_pool(server.url(APP, NAME)) as pool, asyncio.timeout(20):
            with pytest.raises(DatabaseUnavailableError):
                await _copy_to_a_server_that_dies(pool)


def test_a_connection_used_as_it_ends_is_a_lost_one() -> None:
    # What the driver raises then, seen when a server was killed under load.
    with pytest.raises(DatabaseUnavailableError), telling_loss():
        raise asyncpg.InternalClientError("cannot switch to state 15; another operation (2) ...")
