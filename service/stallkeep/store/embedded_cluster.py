"""One folder with a PostgreSQL cluster, and the order in which processes start and stop it.

Three lock files keep that order. The kernel frees a lock when its holder dies, however it dies,
so none of them can go stale:

* ``gate.lock``: held alone while somebody starts or stops the server;
* ``users.lock``: shared by every process that uses it; who gets it alone is the last;
* ``server.lock``: inherited by the server and all its processes, so that it is free only when
  none of them is left, not even a busy one whose parent was killed.

The server listens on a Unix socket in a folder that only its own account may enter.
"""

from __future__ import annotations

import hashlib
import os
import shlex
import shutil
import stat
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from fcntl import LOCK_EX, LOCK_NB, LOCK_SH, flock
from pathlib import Path

import msgspec

from stallkeep.store.embedded_process import is_postgres
from stallkeep.store.embedded_programs import EmbeddedServerError, Programs, find_programs

PORT = 5432
SUPERUSER = "postgres"
LONGEST_SOCKET_FOLDER = 80  # bytes; with the socket's own name it must stay under 104
PATIENCE_SECONDS = 60.0  # with processes left over from a server that was killed
POLL_SECONDS = 0.02
ANSWERS, _REJECTS, SILENT = 0, 1, 2  # as pg_isready tells them


class Cluster(msgspec.Struct, frozen=True):
    """A cluster, and what is needed to run it.

    Attributes:
        folder: Holds the locks, the server's log and the cluster itself.
        programs: Run it.
    """

    folder: Path
    programs: Programs

    @property
    def data(self) -> Path:
        """What PostgreSQL calls its data directory."""
        return self.folder / "postgres"

    @classmethod
    def at(cls, data_dir: Path) -> Cluster:
        """The cluster in a folder, which is made when missing.

        Raises:
            EmbeddedServerError: The server's account cannot get there, or there is no account.
        """
        folder = data_dir.expanduser().resolve()
        programs = find_programs(folder / "postgres")
        try:
            folder.mkdir(parents=True)
        except FileExistsError as error:
            if not folder.is_dir():
                raise EmbeddedServerError(f"{folder} is no folder: choose another") from error
        else:
            folder.chmod(0o711 if programs.account else 0o700)
        if programs.account and (bar := programs.account.barred_at(folder)):
            raise EmbeddedServerError(
                f"PostgreSQL does not run as root, and the account it would run as "
                f"(number {programs.account.uid}) may not enter {bar}: choose another data "
                f"folder with STALLKEEP_DATA_DIR, or start Stallkeep as an ordinary user"
            )
        return cls(folder, programs)

    @contextmanager
    def gate(self) -> Iterator[None]:
        """Wait until nobody else starts or stops the server, and keep others waiting."""
        with (self.folder / "gate.lock").open("ab") as gate:
            flock(gate, LOCK_EX)
            yield

    @contextmanager
    def use(self) -> Iterator[None]:
        """Count as a user; the last one to leave stops the server. Enter it inside the gate."""
        with (self.folder / "users.lock").open("ab") as users:
            flock(users, LOCK_SH)
            try:
                yield
            finally:
                with self.gate():
                    if _lock_at_once(users.fileno()):
                        self._stop()

    def exists(self) -> bool:
        """Whether there is a cluster in the folder."""
        return (self.data / "PG_VERSION").exists()

    def runs(self) -> bool:
        """Whether the server's process is there; it may be about to start or to stop."""
        pid = self._pid()
        return pid is not None and is_postgres(pid, self.data)

    def start(self, settings: Mapping[str, str], socket_dir: Path | None = None) -> Path:
        """Have a server that answers; returns the folder of its socket.

        Args:
            settings: PostgreSQL settings by name.
            socket_dir: Where its users look for it, if it has been running before.
        """
        if not self.exists():
            self._initialise(settings)
        self._check_version()
        launched = False
        give_up_at = time.monotonic() + PATIENCE_SECONDS
        while (state := self._state()) != ANSWERS:
            with (self.folder / "server.lock").open("ab") as lock:
                if _lock_at_once(lock.fileno()):
                    if launched:
                        raise EmbeddedServerError(f"PostgreSQL ended at once: {self._last_words()}")
                    self._launch(lock.fileno(), settings, socket_dir)
                    launched = True
                elif state == SILENT and not launched and time.monotonic() > give_up_at:
                    raise EmbeddedServerError(
                        f"processes of another server still use {self.data}, here or in another "
                        f"container: wait for them to end, or end them, and start again"
                    )
            time.sleep(POLL_SECONDS)
        return self._socket_dir_in_use()

    def _initialise(self, settings: Mapping[str, str]) -> None:
        """Make the cluster beside its place and move it there, so that it is never half made."""
        for left in self.folder.glob("postgres.new-*"):
            shutil.rmtree(left, ignore_errors=True)
        # A name of its own each time: a process of a killed start may still write to the last.
        half = Path(tempfile.mkdtemp(prefix="postgres.new-", dir=self.folder))
        self._give_away(half)
        options = ["--auth-local=trust", "--auth-host=reject", "--encoding=UTF8"]
        options += ["--locale-provider=builtin", "--builtin-locale=C.UTF-8", "--no-instructions"]
        if settings.get("fsync") == "off":
            options.append("--no-sync")
        elif sys.platform == "linux":
            options.append("--sync-method=syncfs")  # one call instead of a thousand
        done = self.programs.run("initdb", "-D", half, "-U", SUPERUSER, *options)
        if done.returncode != 0:
            raise EmbeddedServerError(f"PostgreSQL made no database: {_tail(done.stdout)}")
        half.rename(self.data)

    def _check_version(self) -> None:
        written_by = (self.data / "PG_VERSION").read_text().strip()
        if written_by != str(self.programs.major):
            raise EmbeddedServerError(
                f"the data in {self.data} were written by PostgreSQL {written_by} and this is "
                f"{self.programs.major}: with the Stallkeep that wrote them run "
                f"`stallkeep backup FILE`, then `stallkeep restore FILE` here in a new data folder"
            )

    def _launch(self, lock: int, settings: Mapping[str, str], place: Path | None) -> None:
        self._drop_misleading_pid_file()
        socket_dir = self._made_ready(place) if place else self._socket_dir()
        options = ["-D", str(self.data), "-c", f"unix_socket_directories={socket_dir}"]
        for name, value in settings.items():
            options += ["-c", f"{name}={value}"]
        log = self.folder / "postgres.log"
        if log.exists():
            log.replace(log.with_suffix(".log.1"))
        with log.open("xb") as output:
            self.programs.run(
                *("pg_ctl", "start", "--silent", "--no-wait", "-o", shlex.join(options)),
                output=output,
                pass_fds=(lock,),
                PGDATA=str(self.data),
            )

    def _drop_misleading_pid_file(self) -> None:
        """Remove a dead server's file whose number another process has by now.

        PostgreSQL clears up after itself except there: it takes any living process of that
        number for the old server. Nobody holds the server's lock, so it is gone.
        """
        if (pid := self._pid()) is not None and not is_postgres(pid, self.data):
            (self._socket_dir() / f".s.PGSQL.{PORT}.lock").unlink(missing_ok=True)
            (self._socket_dir_in_use() / f".s.PGSQL.{PORT}.lock").unlink(missing_ok=True)
            (self.data / "postmaster.pid").unlink()

    def _stop(self) -> None:
        if self.runs():
            self.programs.run(
                *("pg_ctl", "stop", "--silent", "--mode=fast", "--timeout=3600"),
                PGDATA=str(self.data),
            )
            with suppress(OSError):
                self._socket_dir().rmdir()

    def _state(self) -> int:
        if self._pid() is None:
            return SILENT
        found = self.programs.run("pg_isready", "-h", self._socket_dir_in_use(), "-p", str(PORT))
        return found.returncode

    def _pid(self) -> int | None:
        lines = self._pid_file()
        return int(lines[0]) if lines and lines[0].isdigit() else None

    def _socket_dir_in_use(self) -> Path:
        """The server's own word for it: whoever started it may have had another TMPDIR."""
        lines = self._pid_file()
        named = "".join(lines[4:5])
        return Path(named) if named else self._socket_dir()

    def _pid_file(self) -> list[str]:
        try:
            return (self.data / "postmaster.pid").read_text().splitlines()
        except FileNotFoundError:
            return []

    def _socket_dir(self) -> Path:
        """A short path of its own for this data folder, whatever the length of the latter."""
        mark = hashlib.sha256(f"{self._owner} {self.data}".encode()).hexdigest()[:16]
        place = Path(tempfile.gettempdir()) / f"stallkeep-{mark}"
        if len(os.fsencode(place)) > LONGEST_SOCKET_FOLDER:
            place = Path("/tmp") / place.name  # noqa: S108 - owner and mode are checked
        return self._made_ready(place)

    def _made_ready(self, place: Path) -> Path:
        """Have a folder for the socket that only the server's account may enter."""
        if not place.is_dir():
            place.mkdir(mode=0o700)
            self._give_away(place)
        found = place.lstat()
        if found.st_uid != self._owner or stat.S_IMODE(found.st_mode) != stat.S_IRWXU:
            raise EmbeddedServerError(f"{place} is somebody else's or open to others: remove it")
        return place

    @property
    def _owner(self) -> int:
        return self.programs.account.uid if self.programs.account else os.geteuid()

    def _give_away(self, folder: Path) -> None:
        if account := self.programs.account:
            os.chown(folder, account.uid, account.gid)

    def _last_words(self) -> str:
        return _tail((self.folder / "postgres.log").read_bytes())


def _lock_at_once(file: int) -> bool:
    try:
        flock(file, LOCK_EX | LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _tail(output: bytes, lines: int = 5) -> str:
    return " / ".join(output.decode(errors="replace").strip().splitlines()[-lines:])
