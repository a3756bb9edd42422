"""The ways that are compared; each takes an export into an empty copy and gives its seconds."""

from __future__ import annotations

import asyncio
import os
import time
from collections.abc import AsyncIterator
from pathlib import Path

import asyncpg
from tests.bench.imports.service_database import Place

from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id
from stallkeep.work.import_file import ImportOrder, Upload, import_file

PEERS = Path(__file__).with_name("service_peers.py")
_COLUMNS = """
select string_agg(quote_ident(attname), ', ' order by attnum) from pg_attribute
 where attrelid = 'transaction'::regclass and attnum > 0 and not attisdropped
"""
_PIECE = 1 << 18


async def whole_import(place: Place, export: Path) -> float:
    """B: all of what `stallkeep import` does with one file, from its bytes to the commit."""
    with export.open("rb") as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(0)
        upload = Upload(file, export.name, size)
        begun = time.perf_counter()
        done = await import_file(
            place.pool, place.shop, upload, ImportOrder(channel_id=place.channel_id)
        )
        seconds = time.perf_counter() - begun
    if done.rows_read != done.taken + done.skipped:
        raise RuntimeError(f"not every row was new: {done}")
    return seconds


async def keep_parsed(place: Place, into: Path) -> None:
    """Write the rows of a finished import as COPY's own binary format, ready for the bound."""
    con = await asyncpg.connect(place.url)
    try:
        await con.copy_from_query(
            "select * from transaction order by ordered_at, record", output=into, format="binary"
        )
    finally:
        await con.close()


async def bound(place: Place, parsed: Path) -> float:
    """A: COPY of the parsed rows into a staging table, then INSERT … ON CONFLICT DO NOTHING.

    As the application's role, behind row level security, into the real table with its real keys.
    """
    shop_id = place.shop.shop_id
    import_id = new_id()
    begun = time.perf_counter()
    async with scope(place.pool, shop_id) as con:
        await con.execute(
            "insert into import (shop_id, id, importer, channel_id, file_name, file_sha256, "
            "file_bytes, state) values ($1, $2, 'bench', $3, 'bench', '', 0, 'running')",
            shop_id,
            import_id,
            place.channel_id,
        )
        await con.execute(
            "create temp table staged (like transaction including defaults) on commit drop"
        )
        await con.copy_to_table("staged", source=_pieces(parsed), format="binary")  # type: ignore[call-arg]
        columns = await con.fetchval(_COLUMNS)
        chosen = columns.replace("import_id", "$1::uuid")
        await con.execute(
            f"insert into transaction ({columns}) select {chosen} from staged "  # noqa: S608
            "on conflict do nothing",
            import_id,
        )
    return time.perf_counter() - begun


async def _pieces(file: Path) -> AsyncIterator[bytes]:
    with file.open("rb") as data:
        while piece := data.read(_PIECE):
            yield piece


async def peer(python: Path, name: str, place: Place, export: Path) -> float:
    """Run pandas or polars in an interpreter that has them; it times itself."""
    arguments = [name, place.url, str(export), str(place.shop.shop_id), str(place.channel_id)]
    process = await asyncio.create_subprocess_exec(
        python, PEERS, *arguments, stdout=asyncio.subprocess.PIPE
    )
    out, _ = await process.communicate()
    if process.returncode:
        raise RuntimeError(f"{name} failed")
    return float(out)
