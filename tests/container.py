"""A throw-away PostgreSQL container, where a Docker engine answers quickly; else none."""

from __future__ import annotations

import os
import time
import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    import docker  # type: ignore[import-untyped]

IMAGE, TAG = "postgres", "18"
SOCKETS = (Path("/var/run/docker.sock"), Path.home() / ".docker/run/docker.sock")
ANSWER_SECONDS = 3
PULL_SECONDS = 90


class Container(msgspec.Struct, frozen=True):
    """A running container: its id and an administrator's address."""

    name: str
    url: str


def start_container(settings: Mapping[str, str]) -> Container | None:
    """Start one; None where no engine answers, or the image is not to be had in time."""
    if not os.environ.get("DOCKER_HOST") and not any(path.exists() for path in SOCKETS):
        return None
    import docker  # noqa: PLC0415 - slow to load
    from docker.errors import DockerException  # type: ignore[import-untyped]  # noqa: PLC0415

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # other people's, and no fact about this project
        try:
            client = docker.from_env(timeout=ANSWER_SECONDS)
        except DockerException:
            return None
        client.api.timeout = PULL_SECONDS
        try:
            _have_image(client)
            return _start(settings)
        except (DockerException, OSError, TimeoutError) as error:
            print(f"a Docker engine answers, but: {error}")  # noqa: T201 - pytest shows it
            return None
        finally:
            client.close()


def remove_container(name: str) -> None:
    """Remove it with its data."""
    import docker  # noqa: PLC0415 - slow to load

    client = docker.from_env()
    try:
        client.containers.get(name).remove(force=True, v=True)
    finally:
        client.close()


def _have_image(client: docker.DockerClient) -> None:
    if client.images.list(name=f"{IMAGE}:{TAG}"):
        return
    give_up_at = time.monotonic() + PULL_SECONDS
    for _ in client.api.pull(IMAGE, tag=TAG, stream=True, decode=True):
        if time.monotonic() > give_up_at:
            raise TimeoutError(f"{IMAGE}:{TAG} was not there in {PULL_SECONDS} s")


def _start(settings: Mapping[str, str]) -> Container:
    from testcontainers.community.postgres import PostgresContainer  # noqa: PLC0415 - likewise
    from testcontainers.core.config import testcontainers_config  # noqa: PLC0415 - slow to load

    # Its reaper would end the container with the worker that started it.
    testcontainers_config.ryuk_disabled = True
    options = " ".join(f"-c {name}={value}" for name, value in settings.items())
    made = PostgresContainer(f"{IMAGE}:{TAG}", driver=None).with_command(f"postgres {options}")
    made.start()
    return Container(made.get_wrapped_container().id, made.get_connection_url())
