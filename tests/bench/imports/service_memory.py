"""One import in a process of its own; prints its seconds and its peak memory above idle, in MB.

Memory is resident memory of the process and of all its children together, looked at every 20 ms.
"""

from __future__ import annotations

import asyncio
import os
import sys
import threading
from pathlib import Path
from uuid import UUID

from tests.bench.imports.service_database import Place
from tests.bench.imports.service_ways import whole_import

from stallkeep.store.engine import open_pool, scope
from stallkeep.store.roles import APP
from stallkeep.store.shops import find_shop

PAGE = os.sysconf("SC_PAGE_SIZE")


class Watch:
    """Looks at the memory in use until it is told to stop."""

    def __init__(self) -> None:
        self.idle = _resident()
        self.peak = self.idle
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._look)
        self._thread.start()

    def _look(self) -> None:
        while not self._stop.wait(0.02):
            self.peak = max(self.peak, _resident())

    def megabytes(self) -> float:
        """Stop; give the peak above what was in use before."""
        self._stop.set()
        self._thread.join()
        return (self.peak - self.idle) / 1e6


def _resident() -> int:
    return sum(_pages(pid) for pid in _family(os.getpid())) * PAGE


def _pages(pid: int) -> int:
    try:
        return int(Path(f"/proc/{pid}/statm").read_text().split()[1])
    except (FileNotFoundError, ProcessLookupError):
        return 0


def _family(pid: int) -> list[int]:
    found = [pid]
    for task in Path(f"/proc/{pid}/task").glob("*/children"):
        try:
            children = task.read_text().split()
        except (FileNotFoundError, ProcessLookupError):
            continue
        for child in children:
            found += _family(int(child))
    return found


async def main(url: str, shop_id: UUID, channel_id: UUID, export: Path) -> None:
    """Take the export in."""
    async with open_pool(url, role=APP) as pool:
        async with scope(pool, shop_id) as con:
            shop = await find_shop(con, shop_id)
        assert shop is not None
        watch = Watch()
        try:
            seconds = await whole_import(Place(url, pool, shop, channel_id), export)
        finally:
            megabytes = watch.megabytes()
    print(seconds, megabytes)  # noqa: T201


if __name__ == "__main__":
    asyncio.run(main(sys.argv[1], UUID(sys.argv[2]), UUID(sys.argv[3]), Path(sys.argv[4])))
