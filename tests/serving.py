"""The service as people run it: a process of its own, killed, stopped and asked over a socket."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

import httpx

from stallkeep.config import FOR_TESTS, PREFIX
from stallkeep.store.channels import add_channel
from stallkeep.store.database import NAME
from stallkeep.store.embedded import embedded_server
from stallkeep.store.engine import open_pool, scope
from stallkeep.store.ids import new_id
from stallkeep.store.migrate import migrate
from stallkeep.store.roles import APP
from stallkeep.store.shops import Shop
from stallkeep.work.open_shop import open_shop

SECONDS = 30.0
STALL = "Harbour stall"


def command(*words: str | Path, **settings: str) -> dict[str, Any]:
    """What to run, and with which environment, for subprocess."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(PREFIX) or name in FOR_TESTS
    }
    return {
        "args": [sys.executable, "-m", "stallkeep.cli", *map(str, words)],
        "env": {**kept, **settings},
    }


def run(*words: str | Path, **settings: str) -> subprocess.CompletedProcess[str]:
    """Run one command to its end."""
    return subprocess.run(
        **command(*words, **settings), capture_output=True, text=True, timeout=60, check=False
    )


class Service:
    """`stallkeep serve` on a data folder, with a token of a shop there."""

    def __init__(self, data_dir: Path, token: str, log: IO[str]) -> None:
        self.data_dir = data_dir
        self._log = log
        self.popen = subprocess.Popen(
            **command("serve", "--data-dir", data_dir, "--port", "0"),
            stdout=subprocess.PIPE,
            stderr=log,
            text=True,
        )
        assert self.popen.stdout
        first = self.popen.stdout.readline()
        assert first.startswith("Stallkeep at "), self.said()
        self.http = httpx.Client(
            base_url=first.split()[2],
            headers={"Authorization": f"Bearer {token}"},
            timeout=SECONDS,
        )

    def said(self) -> str:
        """What it has written to its error stream."""
        return Path(self._log.name).read_text(encoding="utf-8")

    def end(self, how: signal.Signals = signal.SIGTERM) -> int:
        """Send it a signal and wait for its end; gives the exit status."""
        self.popen.send_signal(how)
        return self.popen.wait(timeout=SECONDS)

    def until(self, path: str, **wanted: object) -> dict[str, Any]:
        """Read a resource until its fields have these values."""
        give_up_at = time.monotonic() + SECONDS
        found: dict[str, Any] = {}
        while time.monotonic() < give_up_at:
            found = self.http.get(path).json()
            if all(found.get(name) == value for name, value in wanted.items()):
                return found
            time.sleep(0.05)
        raise AssertionError(f"{path} never came to {wanted}: {found}\n{self.said()}")

    def until_said(self, words: str) -> str:
        """Wait for these words in what it writes to its error stream; gives all of it."""
        give_up_at = time.monotonic() + SECONDS
        while time.monotonic() < give_up_at:
            if words in (said := self.said()):
                return said
            time.sleep(0.05)
        raise AssertionError(f"it never said {words}: {self.said()}")


@contextmanager
def serving(data_dir: Path, token: str) -> Iterator[Service]:
    """Have the service run; it is ended in the end, if it lives still."""
    with (data_dir.parent / f"{data_dir.name}.log").open("w", encoding="utf-8") as log:
        service = Service(data_dir, token, log)
        try:
            yield service
        finally:
            service.http.close()
            if service.popen.poll() is None:
                service.popen.kill()
            service.popen.wait()
            assert service.popen.stdout
            service.popen.stdout.close()


async def made_shop(data_dir: Path) -> tuple[Shop, str]:
    """Make the database of a data folder, with a shop and its stall; gives its owner's token."""
    with embedded_server(data_dir) as server:
        await migrate(server.url(database=NAME))
        async with open_pool(server.url(APP, NAME)) as pool:
            shop, token = await open_shop(pool, "Harbour Mending", "EUR", "Europe/Lisbon", ["en"])
            async with scope(pool, shop.shop_id) as con:
                values = {"shop_id": shop.shop_id, "id": new_id(), "name": STALL, "kind": "stall"}
                await add_channel(con, values)
            return shop, token
