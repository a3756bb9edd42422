"""Telling a PostgreSQL server from another process that has its number by now."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path


def is_postgres(pid: int, data: Path) -> bool:
    """Whether a living process may be a server of this cluster; a zombie has no command left."""
    command = _command(pid)
    if not command.partition(b"\0")[0].endswith(b"postgres"):
        return False
    return b"\0-D\0" not in command or b"\0-D\0" + os.fsencode(data) + b"\0" in command


def _command(pid: int) -> bytes:
    """Words of a process's command, each ended by a zero byte; nothing where there is none."""
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        if Path("/proc/self").exists():
            return b""
    words = subprocess.run(  # noqa: S603 - a program of the system
        ["/bin/ps", "-ww", "-o", "command=", "-p", str(pid)], capture_output=True, check=False
    ).stdout
    # Without /proc the words are only known with blanks between; those before options are ours.
    return words.strip().replace(b" -", b"\0-").replace(b"-D ", b"-D\0") + b"\0"
