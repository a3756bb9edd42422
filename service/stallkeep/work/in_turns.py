"""Work through parts so that one is worked out while the database reads and writes others."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Iterable
from typing import TypeVar

Part = TypeVar("Part")
Read = TypeVar("Read")
Done = TypeVar("Done")


async def in_turns(
    parts: Iterable[Part],
    read: Callable[[Part], Awaitable[Read]],
    work_out: Callable[[Read], Done],
    write: Callable[[Done], Awaitable[None]],
) -> None:
    """Read, work out and write each part; all are written in their order.

    A part is read before the one ahead of it is written: no part may read what another writes.

    Args:
        parts: To be read one after the other.
        read: Runs alone on the connection, as *write* does.
        work_out: Runs in a thread, and touches neither the connection nor what *write* changes.
        write: Takes what *work_out* gives.
    """
    ahead: asyncio.Future[Done] | None = None
    try:
        for part in parts:
            found = await read(part)
            behind, ahead = ahead, asyncio.ensure_future(asyncio.to_thread(work_out, found))
            if behind is not None:
                await write(await behind)
        if ahead is not None:
            await write(await ahead)
    finally:
        if ahead is not None and not ahead.cancel() and not ahead.cancelled():
            ahead.exception()  # looked at, so that nobody complains that it was not
