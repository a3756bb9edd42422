"""The whole database in one file and back, by PostgreSQL's own ``pg_dump`` and ``pg_restore``.

The embedded server brings both. For a server of your own they are those on the path, which must
not be older than the server; the administrator there must be allowed to see over the walls
between shops (a superuser, or a role with ``bypassrls``).
"""

from __future__ import annotations

import asyncio
import os
import shutil
import subprocess
from contextlib import suppress
from pathlib import Path
from typing import IO
from urllib.parse import unquote, urlsplit

from stallkeep.domain.errors import ConflictError, UnavailableError
from stallkeep.store.database import Database
from stallkeep.store.migrate import prepare


class BackupError(UnavailableError):
    """A backup could not be written or brought back."""

    code = "backup-failed"
    title = "The backup failed"


class DatabaseNotEmptyError(ConflictError):
    """A backup is brought back into an empty database only."""

    code = "database-not-empty"
    title = "The database is not empty"


def write_backup(found: Database, file: Path) -> int:
    """Write the database as it stands at one moment, while the service may be running.

    Args:
        found: Which database.
        file: Replaced when all is written, and readable by its owner only.

    Returns:
        The file's size in bytes.

    Raises:
        BackupError: ``pg_dump`` is missing or failed; *file* is as it was.
    """
    _admin(found)
    half = file.with_name(file.name + ".part")
    try:
        with os.fdopen(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as output:
            _run(found, "pg_dump", ["--format=custom"], stdout=output)
            os.fsync(output.fileno())
        half.replace(file)
    except OSError as error:
        raise BackupError(f"{file} cannot be written: {error.strerror}") from error
    finally:
        with suppress(OSError):
            half.unlink()
    return file.stat().st_size


def restore_from(found: Database, file: Path) -> None:
    """Bring a backup back, all of it or nothing.

    Raises:
        DatabaseNotEmptyError: There are tables already.
        BackupError: ``pg_restore`` is missing or failed.
    """
    if not file.is_file():
        raise BackupError(f"there is no file {file}")
    if not asyncio.run(prepare(_admin(found))):
        raise DatabaseNotEmptyError(
            "the database holds tables already: bring the backup back into a new one, with "
            "another folder in STALLKEEP_DATA_DIR or another name in STALLKEEP_DATABASE_URL"
        )
    with file.open("rb") as source:
        _run(found, "pg_restore", ["--single-transaction", "--exit-on-error"], stdin=source)


def _admin(found: Database) -> str:
    if found.admin_url is None:
        raise BackupError("an administrator's address is needed in STALLKEEP_DATABASE_URL")
    return found.admin_url


def _run(
    found: Database,
    name: str,
    options: list[str],
    *,
    stdin: IO[bytes] | int = subprocess.DEVNULL,
    stdout: IO[bytes] | int = subprocess.DEVNULL,
) -> None:
    program = found.programs / name if found.programs else shutil.which(name)
    if program is None:
        raise BackupError(f"{name} is not on the path: install PostgreSQL's client programs")
    url = urlsplit(_admin(found))
    user, at, host = url.netloc.rpartition("@")
    bare = f"{url.scheme}://{user.partition(':')[0]}{at}{host}{url.path}?{url.query}"
    password = {"PGPASSWORD": unquote(url.password)} if url.password else {}
    done = subprocess.run(  # noqa: S603 - no shell, and the password is not among the words
        [program, f"--dbname={bare}", "--no-password", *options],
        stdin=stdin,
        stdout=stdout,
        stderr=subprocess.PIPE,
        env={**os.environ, **password},
        check=False,
    )
    if done.returncode != 0:
        said = done.stderr.decode(errors="replace").strip().splitlines()
        raise BackupError(" / ".join(said[-3:]))
