"""Whether time grows with the rows and memory does not."""

# ruff: noqa: T201 - it prints

from __future__ import annotations

import asyncio
import math
import statistics
import sys
from pathlib import Path

from tests.bench.imports.service_database import Server, empty_place
from tests.bench.imports.service_export import write_export

ROWS = (50_000, 150_000, 500_000, 1_500_000, 5_000_000)
MEASURED = "tests.bench.imports.service_memory"


async def show_growth(server: Server, folder: Path, repeat: int) -> None:
    """Print seconds and peak memory for growing files, and the fit seconds = c · rows^p."""
    print("| rows | MB | seconds | rows/s | peak above idle, MB |\n| --- | --- | --- | --- | --- |")
    medians = []
    for rows in ROWS:
        export = folder / f"{rows}.csv"
        write_export(export, rows)
        runs = [await _measured(server, export) for _ in range(repeat if rows < ROWS[-1] else 1)]
        seconds = statistics.median(run[0] for run in runs)
        medians.append(seconds)
        print(
            f"| {rows:,} | {export.stat().st_size / 1e6:.1f} | {seconds:.2f} "
            f"| {rows / seconds:,.0f} | {max(run[1] for run in runs):.0f} |",
            flush=True,
        )
        export.unlink()
    power, spread = _fit([math.log(rows) for rows in ROWS], [math.log(s) for s in medians])
    print(f"\nseconds ∝ rows^{power:.3f}, greatest departure from the fit {spread:.0%}")


async def _measured(server: Server, export: Path) -> tuple[float, float]:
    """Run one import in a process of its own; give its seconds and its peak in MB above idle."""
    async with empty_place(server) as place:
        process = await asyncio.create_subprocess_exec(
            sys.executable,
            "-m",
            MEASURED,
            place.url,
            str(place.shop.shop_id),
            str(place.channel_id),
            str(export),
            stdout=asyncio.subprocess.PIPE,
        )
        out, _ = await process.communicate()
        if process.returncode:
            raise RuntimeError("the import failed")
        seconds, megabytes = map(float, out.split())
        return seconds, megabytes


def _fit(x: list[float], y: list[float]) -> tuple[float, float]:
    slope, intercept = statistics.linear_regression(x, y)
    off = [abs(b - slope * a - intercept) for a, b in zip(x, y, strict=True)]
    return slope, math.exp(max(off)) - 1
