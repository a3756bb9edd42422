"""Whether time grows with the rows and memory does not."""

# ruff: noqa: T201 - it prints

from __future__ import annotations

import asyncio
import math
import statistics
import sys
from pathlib import Path

import msgspec
from tests.bench.imports.service_database import Place, Server, empty_place
from tests.bench.imports.service_export import write_export
from tests.bench.imports.service_ways import bound, keep_parsed

ROWS = (50_000, 150_000, 500_000, 1_500_000, 5_000_000)
MEASURED = "tests.bench.imports.service_memory"


class Run(msgspec.Struct, frozen=True):
    """One import: its seconds, its peak memory above idle in MB, and the bound's seconds."""

    seconds: float
    megabytes: float
    bound_seconds: float | None


async def show_growth(server: Server, folder: Path, repeat: int, *, beside_bound: bool) -> None:
    """Print seconds and peak memory for growing files, and the fit seconds = c · rows^p.

    With *beside_bound* each import is followed by the database's own bound with the same rows: a
    power that both have is the database's.
    """
    print("| rows | MB | seconds | rows/s | peak above idle, MB | A, seconds | A ÷ it |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    medians, bounds = [], []
    for rows in ROWS:
        export = folder / f"{rows}.csv"
        write_export(export, rows)
        times = repeat if rows < ROWS[-1] else 1
        runs = [await _measured(server, export, beside_bound=beside_bound) for _ in range(times)]
        seconds = statistics.median(run.seconds for run in runs)
        medians.append(seconds)
        line = (
            f"| {rows:,} | {export.stat().st_size / 1e6:.1f} | {seconds:.2f} "
            f"| {rows / seconds:,.0f} | {max(run.megabytes for run in runs):.0f} |"
        )
        found = [run.bound_seconds for run in runs if run.bound_seconds is not None]
        if found:
            bounds.append(statistics.median(found))
            line += f" {bounds[-1]:.2f} | {bounds[-1] / seconds:.2f} |"
        print(line, flush=True)
        export.unlink()
    _show_fit("the import", medians)
    if bounds:
        _show_fit("A", bounds)


async def _measured(server: Server, export: Path, *, beside_bound: bool) -> Run:
    """Run one import in a process of its own, and the bound after it where it is wanted."""
    parsed = export.with_suffix(".copy")
    async with empty_place(server) as place:
        seconds, megabytes = await _apart(place, export)
        if beside_bound:
            await keep_parsed(place, parsed)
    if not beside_bound:
        return Run(seconds, megabytes, None)
    async with empty_place(server) as place:
        bound_seconds = await bound(place, parsed)
    parsed.unlink()
    return Run(seconds, megabytes, bound_seconds)


async def _apart(place: Place, export: Path) -> tuple[float, float]:
    where = (place.url, str(place.shop.shop_id), str(place.channel_id), str(export))
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-m", MEASURED, *where), stdout=asyncio.subprocess.PIPE
    )
    out, _ = await process.communicate()
    if process.returncode:
        raise RuntimeError("the import failed")
    seconds, megabytes = map(float, out.split())
    return seconds, megabytes


def _show_fit(name: str, medians: list[float]) -> None:
    power, spread = _fit([math.log(rows) for rows in ROWS], [math.log(s) for s in medians])
    print(f"\n{name}: seconds ∝ rows^{power:.3f}, greatest departure from the fit {spread:.0%}")


def _fit(x: list[float], y: list[float]) -> tuple[float, float]:
    slope, intercept = statistics.linear_regression(x, y)
    off = [abs(b - slope * a - intercept) for a, b in zip(x, y, strict=True)]
    return slope, math.exp(max(off)) - 1
