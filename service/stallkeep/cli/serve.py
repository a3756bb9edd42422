"""Run the service until it is told to end."""

from __future__ import annotations

import asyncio
import gc
import socket
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from typing import Final

import uvicorn
from rich.console import Console

from stallkeep.api.app import create_app
from stallkeep.cli.http_protocol import HttpProtocol
from stallkeep.cli.running import run
from stallkeep.config import Settings
from stallkeep.domain.errors import UnavailableError
from stallkeep.store.connection import Pool
from stallkeep.store.database import Database
from stallkeep.work.import_later import end_imports

BACKLOG: Final = 2048
"""Connections that may wait to be accepted."""


class AddressError(UnavailableError):
    """The service cannot listen where it was to."""

    code = "address-not-usable"
    title = "The service cannot listen there"


def serve(settings: Settings) -> int:
    """Serve the API; the embedded database runs as long as this does."""
    console = Console()

    async def work(pool: Pool, found: Database) -> None:
        listener = listen(settings)
        console.print(f"Stallkeep at {address(listener)} (docs: {address(listener)}/docs)")
        console.print("No shop yet? In another terminal: stallkeep open-shop --help")
        await serve_on(listener, settings, pool, found)

    run(settings, work, may_be_stopped=True)
    return 0


def listen(settings: Settings) -> socket.socket:
    """Take the address, before anything is said about it.

    Raises:
        AddressError: Something else listens there, or it is no address of this machine.
    """
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    listener = socket.socket(family)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((settings.host, settings.port))
        listener.listen(BACKLOG)  # now, so that whoever reads the address can use it
    except OSError as error:
        listener.close()
        raise AddressError(
            f"{settings.host}:{settings.port} cannot be used ({error.strerror}); choose another "
            "with --port or STALLKEEP_PORT"
        ) from error
    return listener


def address(listener: socket.socket) -> str:
    """Write where a listener listens."""
    host, port = listener.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


async def serve_on(
    listener: socket.socket, settings: Settings, pool: Pool, found: Database
) -> None:
    """Answer requests until a signal ends it; requests under way are finished, imports not.

    Raises:
        EmbeddedServerError: The embedded database is gone and cannot be brought back.
    """
    config = uvicorn.Config(
        create_app(settings, pool),
        lifespan="off",
        log_config=None,
        access_log=False,
        timeout_graceful_shutdown=10,
        server_header=False,
        http=HttpProtocol,
        ws="none",
    )
    gc.collect()
    gc.freeze()  # what is loaded now stays for good; collecting it again costs 200 ms at a time
    server = uvicorn.Server(config)
    async with _looked_after(server, found):
        try:
            await server.serve(sockets=[listener])
        finally:
            await end_imports()


@asynccontextmanager
async def _looked_after(server: uvicorn.Server, found: Database) -> AsyncIterator[None]:
    """Keep the embedded database running; where that fails, the service ends."""
    if found.embedded is None:
        yield
        return
    from stallkeep.store.embedded_watch import keep_running  # noqa: PLC0415 - as in `database`

    def end(_: object) -> None:
        server.should_exit = True

    watch = asyncio.create_task(keep_running(found.embedded))
    watch.add_done_callback(end)
    try:
        yield
    finally:
        watch.cancel()
        with suppress(asyncio.CancelledError):
            await watch
