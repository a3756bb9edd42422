"""The embedded server after every kind of sudden death."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from fcntl import LOCK_EX, flock
from pathlib import Path
from typing import Any

import pytest
from tests.embedded import ask, lives, open_folder, postmaster, process

from stallkeep.store import embedded_cluster
from stallkeep.store.embedded import embedded_server
from stallkeep.store.embedded_programs import EmbeddedServerError, find_programs

QUICK = {"fsync": "off"}
SILENT: Any = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
BUSY = "select count(*) from generate_series(1, 100000) a, generate_series(1, 100000) b"


@pytest.fixture
def folder() -> Iterator[Path]:
    with open_folder() as made:
        yield made


def test_a_killed_user_leaves_no_claim(folder: Path) -> None:
    with process(folder) as user:
        where = user.url()
        server = postmaster(folder)
        user.kill()
        assert lives(server)
        with embedded_server(folder, QUICK) as again:
            assert again.url() == where
            assert postmaster(folder) == server
        assert not lives(server)


def test_a_killed_user_among_two_does_not_keep_the_server(folder: Path) -> None:
    with process(folder) as killed, process(folder) as other:
        killed.url()
        other.url()
        server = postmaster(folder)
        killed.kill()
        other.leave()
        assert not lives(server)


def test_a_killed_server_comes_back_with_everything_that_was_confirmed(folder: Path) -> None:
    with embedded_server(folder) as server:
        ask(server.url(), "create table kept as select generate_series(1, 1000) as n")
        killed = postmaster(folder)
        os.kill(killed, signal.SIGKILL)
        with embedded_server(folder) as again:
            assert ask(again.url(), "select count(*) from kept") == 1000
            assert postmaster(folder) != killed
            revived = postmaster(folder)
        assert lives(revived), "the first user still counts"
    assert not lives(revived)


def test_a_busy_process_of_a_killed_server_is_waited_for(folder: Path) -> None:
    with process(folder) as user:
        where = user.url()
        worker = subprocess.Popen(  # noqa: S603 - our own words
            [find_programs(folder).folder / "psql", where, "-c", BUSY], **SILENT
        )
        busy = _await_busy_backend(where)
        os.kill(postmaster(folder), signal.SIGKILL)
        user.kill()
        with ThreadPoolExecutor() as pool:
            server = embedded_server(folder, QUICK)
            entering = pool.submit(server.__enter__)
            time.sleep(0.5)
            assert not entering.done()
            assert lives(busy)
            os.kill(busy, signal.SIGKILL)
            assert ask(entering.result(timeout=20).url(), "select 1") == 1
        worker.wait()
        server.__exit__(None, None, None)


def _await_busy_backend(url: str) -> int:
    for _ in range(200):
        pid = ask(
            url,
            "select pid from pg_stat_activity where state = 'active' and query like '%100000%'"
            " and pid <> pg_backend_pid()",
        )
        if pid:
            return int(pid)
        time.sleep(0.02)
    raise AssertionError("the query never ran")


@pytest.mark.parametrize("kind", ["living", "zombie"])
def test_a_number_that_another_process_has_by_now_does_not_block(folder: Path, kind: str) -> None:
    with embedded_server(folder, QUICK) as server:
        pid_file = (folder / "postgres/postmaster.pid").read_text().splitlines()
        socket_dir = server.socket_dir
    other = subprocess.Popen(["/bin/sleep", "60"])
    if kind == "zombie":
        other.kill()
        while lives(other.pid):
            time.sleep(0.01)
    pid_file[0] = str(other.pid)
    _leave_stale(folder / "postgres/postmaster.pid", pid_file)
    socket_dir.mkdir(mode=0o700)
    _leave_stale(socket_dir / ".s.PGSQL.5432.lock", pid_file[:5])
    owner = (folder / "postgres").stat()
    os.chown(socket_dir, owner.st_uid, owner.st_gid)
    with embedded_server(folder, QUICK) as again:
        assert ask(again.url(), "select 1") == 1
    assert lives(other.pid) == (kind == "living"), "it is none of ours to end"
    other.kill()
    other.wait()


def _leave_stale(file: Path, lines: list[str]) -> None:
    file.write_text("\n".join(lines) + "\n")
    owner = (file.parent).stat()
    os.chown(file, owner.st_uid, owner.st_gid)


def test_a_first_start_that_was_killed_half_way_begins_anew(folder: Path) -> None:
    (folder / "postgres.new-1/base").mkdir(parents=True)
    (folder / "postgres.new-1/PG_VERSION").write_text("18\n")
    with embedded_server(folder, QUICK) as server:
        assert ask(server.url(), "select 1") == 1
    assert not list(folder.glob("postgres.new-*"))


def test_a_user_killed_while_the_server_starts_leaves_no_harm(folder: Path) -> None:
    for moment in (0.15, 0.3, 0.45, 0.6):
        with process(folder) as user:
            time.sleep(moment)
            user.kill()
    with embedded_server(folder, QUICK) as server:
        assert ask(server.url(), "select 1") == 1
        last = postmaster(folder)
    assert not lives(last)


def test_a_server_that_only_another_container_can_reach_is_not_started_twice(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with embedded_server(folder, QUICK):
        pass
    monkeypatch.setattr(embedded_cluster, "PATIENCE_SECONDS", 0.1)
    with (folder / "server.lock").open("ab") as held:
        flock(held, LOCK_EX)
        with pytest.raises(EmbeddedServerError, match="still use"):
            embedded_server(folder, QUICK).__enter__()
