"""How fast an export is read, beside the standard library's reader alone, and in what memory.

    python -m tests.bench.imports.bench_reading [ROWS ...]

Times are processor seconds of this process, the best of three runs.
"""

# ruff: noqa: T201 - it prints

from __future__ import annotations

import csv
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.bench.imports.card_export import write

from stallkeep_importers.card_reader_payments import CardReaderPayments
from stallkeep_importers.contract import Options

RUNS = 3


def count_records(path: Path) -> int:
    """Part the file into records, and do nothing with them."""
    with path.open(encoding="utf-8", newline="") as text:
        return sum(1 for _ in csv.reader(text))


def count_outcomes(path: Path) -> int:
    """Read the file into outcomes, and do nothing with them."""
    with path.open("rb") as stream:
        found = CardReaderPayments().read(stream, Options(time_zone="Asia/Tokyo"))
        return sum(1 for _ in found) - 1


def best(run: Callable[[Path], int], path: Path) -> tuple[int, float]:
    """Give how many came out and the processor seconds of the best run."""
    times = []
    for _ in range(RUNS):
        start = time.process_time()
        counted = run(path)
        times.append(time.process_time() - start)
    return counted, min(times)


def peak_mb() -> float:
    """Give the most memory this process has held so far, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> None:
    """Print one line per size."""
    sizes = [int(text) for text in sys.argv[1:]] or [50_000, 500_000]
    print("rows        csv.reader   importer     µs a row   of csv.reader   peak MB")
    for rows in sizes:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "export.csv"
            write(path, rows)
            records, alone = best(count_records, path)
            outcomes, ours = best(count_outcomes, path)
            assert records == outcomes
            print(
                f"{rows:<11,} {records / alone:<12,.0f} {outcomes / ours:<12,.0f} "
                f"{ours / outcomes * 1e6:<10.2f} {alone / ours:<15.2f} {peak_mb():.0f}"
            )


if __name__ == "__main__":
    main()
