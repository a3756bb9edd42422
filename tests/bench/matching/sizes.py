"""Time and memory by the size of an event: ``python -m tests.bench.matching.sizes [first seed]``.

Worlds are counted home, without stubs. Each size runs in a process of its own, so that its peak of
memory is its own; seconds are of the processor, so that a busy machine does not count.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import time

import msgspec
import numpy as np
from tests.bench.matching.worlds import PROFILES, a_world

from stallkeep.domain.matching import reconcile

SIZES = ((200, 40, 20), (400, 80, 10), (2000, 1000, 1))  # pieces, lines, worlds
KIB_PER_MIB = 1024


def main(first: int) -> None:
    """Print a row per size."""
    sys.stdout.write("| pieces, lines, worlds | half within | 95 % within | peak memory |\n")
    sys.stdout.write("|---|---|---|---|\n")
    fresh = multiprocessing.get_context("spawn")
    for pieces, lines, worlds in SIZES:
        with fresh.Pool(1) as pool:
            seconds, peak = pool.apply(measured, (pieces, lines, range(first, first + worlds)))
        half, most = np.percentile(seconds, (50, 95))
        sys.stdout.write(
            f"| {pieces:,}, {lines:,}, {worlds} | {half:.2f} s | {most:.2f} s | {peak:.0f} MB |\n"
        )
        sys.stdout.flush()


def measured(pieces: int, lines: int, seeds: range) -> tuple[list[float], float]:
    """Seconds of the processor per world, and the process's peak in MiB."""
    profile = msgspec.structs.replace(PROFILES["typical_count"], pieces=pieces, lines=lines)
    reconcile(a_world(PROFILES["typical_count"], 0).evidence)
    seconds = []
    for seed in seeds:
        evidence = a_world(profile, seed).evidence
        start = time.process_time()
        reconcile(evidence)
        seconds.append(time.process_time() - start)
    return seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KIB_PER_MIB


if __name__ == "__main__":
    main(int((sys.argv[1:] or ["9500"])[0]))
