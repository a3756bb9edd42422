"""Looking after the embedded server while a service runs on it."""

from __future__ import annotations

import asyncio
import time
from typing import Final, NoReturn

import structlog

from stallkeep.store.embedded import Server
from stallkeep.store.embedded_programs import EmbeddedServerError

log = structlog.get_logger()

LOOK_SECONDS: Final = 0.25
"""How often it is looked for: a glance at one small file and one entry of /proc."""

PAUSES_SECONDS: Final = (0.0, 1.0, 2.0, 4.0, 8.0)
"""Before each of the tries in a row."""

STEADY_SECONDS: Final = 60.0
"""A server that has run so long is well again: the tries are counted anew."""


async def keep_running(server: Server) -> NoReturn:
    """Start the server again whenever it is gone.

    Raises:
        EmbeddedServerError: It was started as often as there are pauses, and is gone again.
    """
    tries, started_at = 0, 0.0
    while True:
        await asyncio.sleep(LOOK_SECONDS)
        if server.runs():
            if tries and time.monotonic() - started_at > STEADY_SECONDS:
                tries = 0
            continue
        if tries == len(PAUSES_SECONDS):
            raise EmbeddedServerError(
                f"it ended and was started again {tries} times, in vain: see "
                f"{server.cluster.folder / 'postgres.log'}, then start Stallkeep again"
            )
        tries += 1
        await _revive(server, tries)
        started_at = time.monotonic()


async def _revive(server: Server, tries: int) -> None:
    log.error("embedded_database_gone", start=tries, of=len(PAUSES_SECONDS))
    await asyncio.sleep(PAUSES_SECONDS[tries - 1])
    try:
        await asyncio.to_thread(server.revive)
    except EmbeddedServerError as error:
        log.error("embedded_database_not_started", reason=error.detail)  # noqa: TRY400 - no fault
    else:
        log.warning("embedded_database_started_again")
