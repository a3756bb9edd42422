"""Which database the settings mean: a server somebody runs, or the embedded one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from stallkeep.config import Settings
from stallkeep.store.roles import APP

if TYPE_CHECKING:
    from stallkeep.store.embedded import Server

NAME = "stallkeep"


class Database(msgspec.Struct, frozen=True):
    """Where migrations and the service connect.

    Attributes:
        admin_url: For ``migrate`` and dumps; None where only the application may log in, and
            somebody else migrates.
        app_url: For ``open_pool``.
        app_role: The role to take on there; None where the address itself names the weak role.
        embedded: The embedded server; None for a server of your own.
    """

    admin_url: str | None
    app_url: str
    app_role: str | None
    embedded: Server | None = None

    @property
    def programs(self) -> Path | None:
        """Folder of the embedded server's own programs."""
        return self.embedded.programs.folder if self.embedded else None


@contextmanager
def database(settings: Settings) -> Iterator[Database]:
    """Have the database that the settings mean; the embedded server runs while this is open.

    Raises:
        EmbeddedServerError: The embedded server cannot run here.
    """
    admin_url, app_url = settings.database_url, settings.app_database_url
    if app_url:
        yield Database(admin_url, app_url, None)
    elif admin_url:
        yield Database(admin_url, admin_url, APP)
    else:
        # Only here: locks as the embedded server needs them are not to be had on every system.
        from stallkeep.store.embedded import embedded_server  # noqa: PLC0415

        with embedded_server(settings.data_dir) as server:
            yield Database(server.url(database=NAME), server.url(APP, NAME), None, server)
