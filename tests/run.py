"""Which PostgreSQL a run of the tests uses, and the end of every trace of it.

Chosen in this order by the first worker that needs one:

1. the server of ``STALLKEEP_TEST_DATABASE_URL``, an administrator's address;
2. a container of ``postgres:18``, where a Docker engine answers;
3. the embedded server.

The folder of a run holds what its workers must agree on; the process that started them clears
everything away.
"""

from __future__ import annotations

import asyncio
import os
import secrets
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from fcntl import LOCK_EX, LOCK_NB, flock
from pathlib import Path
from typing import IO

import asyncpg
import msgspec
from tests.container import remove_container, start_container

from stallkeep.store.embedded import embedded_server
from stallkeep.store.embedded_programs import EmbeddedServerError

GIVEN = "STALLKEEP_TEST_DATABASE_URL"
RUN = "PYTEST_STALLKEEP_RUN"
PREFIX = "stallkeep-tests-"
QUICK = {"fsync": "off", "synchronous_commit": "off", "full_page_writes": "off"}
ROOMY = {"max_connections": "300"}
NEW_SECONDS = 60.0  # a run that has just begun may not hold its lock yet


class Choice(msgspec.Struct, frozen=True):
    """Which server; no address means the embedded one."""

    what: str
    url: str | None = None
    container: str | None = None


class Run(msgspec.Struct, frozen=True):
    """One run of pytest, whatever the number of its workers."""

    mark: str

    @classmethod
    def current(cls) -> Run:
        """The run of this process; the first to ask begins it, its workers inherit it."""
        return cls(os.environ.setdefault(RUN, secrets.token_hex(4)))

    @property
    def folder(self) -> Path:
        return Path(tempfile.gettempdir()) / f"{PREFIX}{self.mark}"

    @property
    def template(self) -> str:
        return f"stallkeep_test_{self.mark}"

    def begin(self) -> IO[bytes]:
        """Make the folder; it counts as in use while the answer stays open."""
        self.folder.mkdir(mode=0o711)
        lock = (self.folder / "run.lock").open("ab")
        flock(lock, LOCK_EX)
        return lock

    def choose(self) -> Choice:
        """The server of this run; whoever asks first chooses."""
        with (self.folder / "choice.lock").open("ab") as lock:
            flock(lock, LOCK_EX)
            choice = self.chosen()
            if choice is None:
                choice = _choose()
                (self.folder / "choice.json").write_bytes(msgspec.json.encode(choice))
            return choice

    def chosen(self) -> Choice | None:
        """The server of this run, if any test has needed one."""
        try:
            return msgspec.json.decode((self.folder / "choice.json").read_bytes(), type=Choice)
        except FileNotFoundError:
            return None

    def end(self) -> None:
        """Remove every trace."""
        choice = self.chosen()
        if choice and choice.container:
            remove_container(choice.container)
        elif choice and choice.url:
            asyncio.run(_drop_all(choice.url, self.template))
        shutil.rmtree(self.folder)


def sweep() -> None:
    """Clear away what runs left behind that were killed."""
    for folder in Path(tempfile.gettempdir()).glob(PREFIX + "*"):
        with suppress(OSError, EmbeddedServerError, asyncpg.PostgresError):
            _sweep_one(folder)


def _sweep_one(folder: Path) -> None:
    lock = folder / "run.lock"
    if time.time() - lock.stat().st_mtime < NEW_SECONDS:
        return
    with lock.open("ab") as held:
        flock(held, LOCK_EX | LOCK_NB)  # an OSError while the run is on
        if (folder / "server").exists():
            with embedded_server(folder / "server"):
                pass  # whoever leaves last stops it
        Run(folder.name.removeprefix(PREFIX)).end()


@contextmanager
def run_server(run: Run) -> Iterator[str]:
    """Have the run's server; gives its address for an administrator."""
    choice = run.choose()
    if choice.url:
        yield choice.url
    else:
        with embedded_server(run.folder / "server", QUICK | ROOMY) as server:
            yield server.url()


def _choose() -> Choice:
    if url := os.environ.get(GIVEN):
        return Choice(f"the server of {GIVEN}", url)
    container = start_container(QUICK | ROOMY)
    if container:
        return Choice("a container of postgres:18", container.url, container.name)
    return Choice("the embedded server")


async def _drop_all(url: str, prefix: str) -> None:
    con = await asyncpg.connect(url)
    try:
        names = "select datname from pg_database where starts_with(datname, $1)"
        for (name,) in await con.fetch(names, prefix):
            await con.execute(f"drop database {name} with (force)")
    finally:
        await con.close()
