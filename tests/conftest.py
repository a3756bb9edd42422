"""Fixtures for every test, and the beginning and end of a run."""

from __future__ import annotations

import asyncio
import logging
import os
import sys
from collections.abc import AsyncIterator, Iterator
from typing import IO, TYPE_CHECKING

import pytest
import structlog
from hypothesis import settings
from tests.run import GIVEN, Run, run_server, sweep

if TYPE_CHECKING:
    from tests.database import Clone

# The same examples on every run: a check that fails must fail for whoever changed something.
settings.register_profile("steady", derandomize=True)
settings.load_profile("steady")

LOCAL = ("127.0.0.1", "::1", "localhost", "", None)
IN_USE = pytest.StashKey[IO[bytes]]()


@pytest.fixture(autouse=True)
def _log_as_before() -> Iterator[None]:
    """Undo what a test set up for the log: its stream is closed when the next one begins."""
    handlers = logging.root.handlers[:]
    yield
    structlog.reset_defaults()
    logging.root.handlers = handlers


@pytest.fixture(scope="session")
def server_url() -> Iterator[str]:
    """An administrator's address on the run's PostgreSQL server."""
    with run_server(Run.current()) as url:
        yield url


@pytest.fixture(scope="session")
def template(server_url: str) -> str:
    """Name of the run's migrated database, to copy from."""
    from tests.database import make_template  # noqa: PLC0415 - most tests need none of it

    name = Run.current().template
    asyncio.run(make_template(server_url, name))
    return name


@pytest.fixture
async def database(server_url: str, template: str) -> AsyncIterator[Clone]:
    """A migrated database of the test's own: ``name``, ``admin_url`` and ``pool``."""
    from tests.database import clone  # noqa: PLC0415 - likewise

    async with clone(server_url, template) as made:
        yield made


def pytest_configure(config: pytest.Config) -> None:
    """Begin the run in the process that starts the workers; close the network in all."""
    if not hasattr(config, "workerinput"):
        os.environ.pop("PYTEST_STALLKEEP_RUN", None)
        sweep()
        config.stash[IN_USE] = Run.current().begin()
    if not os.environ.get(GIVEN) and not os.environ.get("DOCKER_HOST"):
        sys.addaudithook(_refuse_network)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say which server the integration tests ran on."""
    if chosen := Run.current().chosen():
        terminalreporter.write_line(f"PostgreSQL: {chosen.what}")


def pytest_unconfigure(config: pytest.Config) -> None:
    """Clear away the run."""
    if IN_USE in config.stash:
        Run.current().end()
        config.stash[IN_USE].close()


def _refuse_network(event: str, arguments: tuple[object, ...]) -> None:
    """Let no test reach another machine; this one and Unix sockets are fine."""
    if event == "socket.connect":
        address = arguments[1]
        if isinstance(address, tuple) and address[0] not in LOCAL:
            raise RuntimeError(f"tests use no network, and this one wants {address}")
