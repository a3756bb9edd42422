"""The embedded PostgreSQL: started by its first user, stopped by its last, safe to kill."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from pathlib import Path
from types import MappingProxyType
from urllib.parse import quote, urlencode

import msgspec

from stallkeep.store.embedded_cluster import PORT, SUPERUSER, Cluster
from stallkeep.store.embedded_programs import EmbeddedServerError, Programs

SETTINGS: Mapping[str, str] = MappingProxyType(
    {
        "listen_addresses": "",
        "unix_socket_permissions": "0700",
        "timezone": "UTC",
        "log_timezone": "UTC",
        "shared_buffers": "256MB",
        "max_wal_size": "2GB",
    }
)


class Server(msgspec.Struct, frozen=True):
    """A running embedded server.

    Attributes:
        socket_dir: Folder of its Unix socket.
        cluster: What it runs on.
        settings: PostgreSQL settings by name.
    """

    socket_dir: Path
    cluster: Cluster
    settings: Mapping[str, str]

    @property
    def programs(self) -> Programs:
        """Its programs, for dumps."""
        return self.cluster.programs

    def runs(self) -> bool:
        """Whether its process is there."""
        return self.cluster.runs()

    def revive(self) -> None:
        """Start it again where it was, unless another of its users has.

        Raises:
            EmbeddedServerError: It does not start; the message says why.
        """
        with _telling(self.cluster.folder), self.cluster.gate():
            if not self.cluster.exists():
                raise EmbeddedServerError(f"the database in {self.cluster.folder} has been removed")
            self.cluster.start(self.settings, self.socket_dir)

    def url(self, role: str = SUPERUSER, database: str = "postgres") -> str:
        """Address for a role and a database of this server; no password is needed."""
        where = urlencode({"host": str(self.socket_dir), "port": PORT})
        return f"postgresql://{quote(role)}@/{quote(database)}?{where}"


@contextmanager
def embedded_server(data_dir: Path, settings: Mapping[str, str] | None = None) -> Iterator[Server]:
    """Have a server on *data_dir* while the context is open; processes share one.

    Args:
        data_dir: Made when missing. Holds the locks, the server's log and the cluster itself.
        settings: PostgreSQL settings by name, on top of SETTINGS; those of the process that
            starts the server count.

    Raises:
        EmbeddedServerError: It cannot run here; the message says what to do.
    """
    chosen = {**SETTINGS, **(settings or {})}
    with ExitStack() as leaving:
        with _telling(data_dir):
            cluster = Cluster.at(data_dir)
            with cluster.gate():
                leaving.enter_context(cluster.use())
                socket_dir = cluster.start(chosen)
        yield Server(socket_dir, cluster, chosen)


@contextmanager
def _telling(data_dir: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise EmbeddedServerError(f"the server cannot be started on {data_dir}: {error}") from error
