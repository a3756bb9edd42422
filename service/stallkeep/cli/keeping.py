"""Backup and restore of the whole database."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console

from stallkeep.config import Settings
from stallkeep.store.backup import restore_from, write_backup
from stallkeep.store.database import database


def backup(settings: Settings, file: Path) -> int:
    """Write the database into a file, at one moment, while the service may be running."""
    with database(settings) as found:
        size = write_backup(found, file)
    Console().print(f"Wrote {file} ({size:,} bytes)")
    return 0


def restore(settings: Settings, file: Path) -> int:
    """Bring a backup back; the database must be empty."""
    with database(settings) as found:
        restore_from(found, file)
    Console().print(f"Restored {file}")
    return 0
