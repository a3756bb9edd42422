"""How fast an export is taken in, beside the database's own bound and two data-frame libraries.

    python -m tests.bench.imports.service_import --rows 500000
    python -m tests.bench.imports.service_import --rows 500000 --peers-python path/to/python
    python -m tests.bench.imports.service_import --growth --beside-bound

On the embedded server as it is delivered, or on STALLKEEP_TEST_DATABASE_URL. Every run goes into
an empty copy of a migrated database, after a checkpoint; the ways take turns.
"""

# ruff: noqa: T201 - it prints

from __future__ import annotations

import argparse
import asyncio
import statistics
import sys
import tempfile
from pathlib import Path

from tests.bench.imports.service_database import (
    Server,
    benchmark_server,
    count,
    empty_place,
    server_url,
)
from tests.bench.imports.service_export import write_export
from tests.bench.imports.service_growth import show_growth
from tests.bench.imports.service_ways import bound, keep_parsed, peer, whole_import

BOUND, OURS = "A: COPY + INSERT … ON CONFLICT", "B: the whole import"


async def compare(server: Server, export: Path, said: argparse.Namespace) -> None:
    """Run every way in turn and print the table."""
    parsed = export.with_suffix(".copy")
    async with empty_place(server) as place:  # warms up, too
        await whole_import(place, export)
        await keep_parsed(place, parsed)
    names = [BOUND, OURS, *(("pandas", "polars") if said.peers_python else ())]
    seconds: dict[str, list[float]] = {name: [] for name in names}
    for turn in range(said.repeat):
        for name in names if turn % 2 else reversed(names):
            async with empty_place(server) as place:
                if name == BOUND:
                    took = await bound(place, parsed)
                elif name == OURS:
                    took = await whole_import(place, export)
                else:
                    took = await peer(said.peers_python, name, place, export)
                stored = await count(place)
            if stored != said.rows:
                raise RuntimeError(f"{name} stored {stored} rows")
            seconds[name].append(took)
            print(f"  {name}: {took:.2f} s", file=sys.stderr)
    _table(seconds, said.rows)


def _table(seconds: dict[str, list[float]], rows: int) -> None:
    bound_median = statistics.median(seconds[BOUND])
    print(f"\n{rows:,} rows, median of {len(seconds[BOUND])} (least to most)\n")
    print("| way | seconds | rows/s | A ÷ it |\n| --- | --- | --- | --- |")
    for name, found in seconds.items():
        median = statistics.median(found)
        print(
            f"| {name} | {median:.2f} ({min(found):.2f} to {max(found):.2f}) "
            f"| {rows / median:,.0f} | {bound_median / median:.2f} |"
        )


async def main(said: argparse.Namespace) -> None:
    """Make the export and run what was asked for."""
    with server_url() as url, tempfile.TemporaryDirectory() as folder:
        async with benchmark_server(url) as server:
            if said.growth:
                await show_growth(
                    *(server, Path(folder), said.repeat), beside_bound=said.beside_bound
                )
                return
            export = Path(folder) / "export.csv"
            write_export(export, said.rows, rising_ids=said.rising_ids)
            await compare(server, export, said)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rows", type=int, default=500_000)
    parser.add_argument("--repeat", type=int, default=5)
    parser.add_argument("--rising-ids", action="store_true", help="ids that sort as they come")
    parser.add_argument("--growth", action="store_true", help="50 k to 5 M rows, and memory")
    parser.add_argument("--beside-bound", action="store_true", help="with --growth: A beside it")
    parser.add_argument("--peers-python", type=Path, help="interpreter with pandas and polars")
    asyncio.run(main(parser.parse_args()))
