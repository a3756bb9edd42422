"""Helpers for tests of the embedded server: a folder it may use, a second process, its pids."""

from __future__ import annotations

import asyncio
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import asyncpg

USER = """
import os, sys
from pathlib import Path
from stallkeep.store.embedded import embedded_server
from stallkeep.store.embedded_programs import find_programs
if account := int(sys.argv[2]):
    find_programs(Path("/"))  # load what it loads: the account may not be let into our packages
    os.setgroups([])
    os.setgid(int(sys.argv[3]))
    os.setuid(account)
with embedded_server(Path(sys.argv[1]), {"fsync": "off"}) as server:
    print(server.url(), flush=True)
    sys.stdin.read()
"""


class Process:
    """Another process that uses the embedded server until it is told to leave, or killed."""

    def __init__(self, data_dir: Path, account: tuple[int, int]) -> None:
        self.popen = subprocess.Popen(  # noqa: S603 - our own words
            [sys.executable, "-c", USER, str(data_dir), *map(str, account)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def url(self) -> str:
        assert self.popen.stdout
        line: str = self.popen.stdout.readline()
        return line.strip()

    def leave(self) -> None:
        assert self.popen.stdin
        self.popen.stdin.close()
        assert self.popen.wait() == 0

    def kill(self) -> None:
        self.popen.kill()
        self.popen.wait()


@contextmanager
def process(data_dir: Path, account: tuple[int, int] = (0, 0)) -> Iterator[Process]:
    """Have one; *account* is the uid and gid to change to, by root only."""
    other = Process(data_dir, account)
    try:
        yield other
    finally:
        with other.popen:  # closes its pipes, whereupon it leaves, and waits
            pass


@contextmanager
def open_folder() -> Iterator[Path]:
    """Have a folder that every account may enter; pytest's own is closed to others than root."""
    made = Path(tempfile.mkdtemp(prefix="stallkeep embedded "))
    made.chmod(0o755)
    try:
        yield made
    finally:
        shutil.rmtree(made)


def ask(url: str, question: str) -> Any:  # noqa: ANN401 - whatever the column holds
    async def one_value() -> object:
        con = await asyncpg.connect(url)
        try:
            return await con.fetchval(question)
        finally:
            await con.close()

    return asyncio.run(one_value())


def postmaster(data_dir: Path) -> int:
    return int((data_dir / "postgres/postmaster.pid").read_text().split()[0])


def lives(pid: int) -> bool:
    """Whether a process runs; a zombie does not."""
    try:
        return b"Z" not in Path(f"/proc/{pid}/stat").read_bytes().rpartition(b")")[2].split()[:1]
    except FileNotFoundError:
        return False


as_root = os.geteuid() == 0
