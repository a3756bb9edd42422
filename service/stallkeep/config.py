"""The settings: environment variables that begin with ``STALLKEEP_``, read once at start."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal, get_args, get_origin
from urllib.parse import urlsplit

import msgspec
import platformdirs

PREFIX = "STALLKEEP_"
FOR_TESTS = frozenset({"STALLKEEP_TEST_DATABASE_URL"})
ADDRESSES = frozenset({"STALLKEEP_DATABASE_URL", "STALLKEEP_APP_DATABASE_URL"})
FOLDER_OF_ROOT = Path("/var/lib/stallkeep/data")

Port = Annotated[int, msgspec.Meta(ge=0, le=65535)]
Size = Annotated[int, msgspec.Meta(ge=1)]
PoolSize = Annotated[int, msgspec.Meta(ge=6)]
Address = Annotated[str, msgspec.Meta(pattern="^postgres(ql)?://")]


class SettingsError(Exception):
    """A variable is unknown or holds what it may not; the message names it."""


def default_data_dir() -> Path:
    """The platform's folder for a user's data.

    Root's is usually closed to the account that PostgreSQL then runs as, so root gets
    ``/var/lib/stallkeep/data``.
    """
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        return FOLDER_OF_ROOT
    return Path(platformdirs.user_data_dir("stallkeep", appauthor=False))


class Settings(msgspec.Struct, frozen=True, kw_only=True, rename=lambda n: PREFIX + n.upper()):
    """Everything that can be set; a variable's name is the field's in capitals with the prefix.

    Attributes:
        database_url: ``postgresql://`` address of an administrator on a server of your own;
            without it (and without the next) the embedded server is used.
        app_database_url: Address the service itself logs in with, as ``stallkeep_app``; alone
            it means that somebody else migrates.
        data_dir: Folder of the embedded database.
        host: Address to listen on.
        port: Port to listen on; 0 for any free one.
        log: "console" for columns at the desk, "json" for a line of JSON each.
        log_level: The least important messages still shown.
        max_upload_bytes: Largest file that an import takes.
        pool_size: Database connections of one process at most. Three imports hold one each and
            want another now and then, files that wait hold one, and requests need some too.
    """

    database_url: Address | None = None
    app_database_url: Address | None = None
    data_dir: Path = msgspec.field(default_factory=default_data_dir)
    host: str = "127.0.0.1"
    port: Port = 8000
    log: Literal["console", "json"] = "console"
    log_level: Literal["debug", "info", "warning", "error"] = "info"
    max_upload_bytes: Size = 500_000_000
    pool_size: PoolSize = 10


def read_settings(environment: Mapping[str, str] = os.environ) -> Settings:
    """Read them; empty variables count as not set.

    Raises:
        SettingsError: Names the variable at fault.
    """
    given = {
        name: value
        for name, value in environment.items()
        if name.startswith(PREFIX) and name not in FOR_TESTS and value
    }
    fields = {field.encode_name: field for field in msgspec.structs.fields(Settings)}
    if unknown := sorted(given.keys() - fields.keys()):
        raise SettingsError(
            f"unknown settings: {', '.join(unknown)}; there are {', '.join(sorted(fields))}"
        )
    for name in ADDRESSES & given.keys():
        try:
            urlsplit(given[name])
        except ValueError as error:
            raise SettingsError(f"{name}: it is no address ({error})") from error
    try:
        return msgspec.convert(given, Settings, strict=False, dec_hook=_path)
    except msgspec.ValidationError as error:
        what, _, place = str(error).removesuffix("`").partition(" - at `$.")
        if get_origin(fields[place].type) is Literal:
            what += f", expected one of {', '.join(get_args(fields[place].type))}"
        raise SettingsError(f"{place}: {what[:1].lower()}{what[1:]}") from error


def _path(kind: type, value: object) -> Path:
    if kind is not Path:
        raise NotImplementedError
    return Path(str(value)).expanduser()
