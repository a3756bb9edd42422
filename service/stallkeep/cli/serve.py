"""Run the service until it is told to end."""

from __future__ import annotations

import gc
import socket

import uvicorn
from rich.console import Console

from stallkeep.api.app import create_app
from stallkeep.cli.running import run
from stallkeep.config import Settings
from stallkeep.domain.errors import UnavailableError
from stallkeep.store.connection import Pool
from stallkeep.store.database import Database
from stallkeep.work.import_later import end_imports


class AddressInUseError(UnavailableError):
    """Something else listens where the service was to."""

    code = "address-in-use"
    title = "The address is in use"


def serve(settings: Settings) -> int:
    """Serve the API; the embedded database runs as long as this does."""
    console = Console()

    async def work(pool: Pool, _: Database) -> None:
        listener = listen(settings)
        console.print(f"Stallkeep at {address(listener)} (docs: {address(listener)}/docs)")
        console.print("No shop yet? In another terminal: stallkeep open-shop --help")
        await serve_on(listener, settings, pool)

    run(settings, work)
    return 0


def listen(settings: Settings) -> socket.socket:
    """Take the address, before anything is said about it.

    Raises:
        AddressInUseError: Something else listens there.
    """
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    listener = socket.socket(family)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((settings.host, settings.port))
    except OSError as error:
        listener.close()
        raise AddressInUseError(
            f"{settings.host}:{settings.port} cannot be used ({error.strerror}); choose another "
            "with --port or STALLKEEP_PORT"
        ) from error
    return listener


def address(listener: socket.socket) -> str:
    """Write where a listener listens."""
    host, port = listener.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


async def serve_on(listener: socket.socket, settings: Settings, pool: Pool) -> None:
    """Answer requests until a signal ends it; requests under way are finished, imports not."""
    config = uvicorn.Config(
        create_app(settings, pool),
        lifespan="off",
        log_config=None,
        access_log=False,
        timeout_graceful_shutdown=10,
        server_header=False,
    )
    gc.collect()
    gc.freeze()  # what is loaded now stays for good; collecting it again costs 200 ms at a time
    try:
        await uvicorn.Server(config).serve(sockets=[listener])
    finally:
        await end_imports()
