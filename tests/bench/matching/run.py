"""The benchmark: ``python -m tests.bench.matching.run [worlds] [first seed] [profile …]``.

Prints the table of all engines, profile by profile, and writes the reliability diagram beside
this file. Seconds are of the processor, so that a busy machine does not count.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

from tests.bench.matching.first_engine import FirstEngine
from tests.bench.matching.greedy import greedy
from tests.bench.matching.reference import know_all
from tests.bench.matching.reliability import diagram
from tests.bench.matching.scoring import Score, add, table
from tests.bench.matching.worlds import PROFILES, World, a_world

from stallkeep.domain.matching import Budget, Reconciliation, reconcile

ENGINES: dict[str, Callable[[World], Reconciliation]] = {
    "ours": lambda world: reconcile(world.evidence),
    "ceiling": know_all,
    "first engine": lambda world: FirstEngine(world.evidence, 0.99, Budget()).run(),
    "greedy": lambda world: greedy(world.evidence),
}
PICTURE = Path(__file__).with_name("reliability.svg")


def main(worlds: int, first: int, names: list[str]) -> None:
    """Run every engine over the named profiles, or all."""
    sys.stdout.write(table([]) + "\n")
    tops: dict[str, list[tuple[float, bool]]] = {"ours": [], "ceiling": []}
    for name in names or list(PROFILES):
        profile = PROFILES[name]
        scores = {engine: Score() for engine in ENGINES}
        for seed in range(first, first + worlds):
            world = a_world(profile, seed)
            for engine, answer in ENGINES.items():
                start = time.process_time()
                result = answer(world)
                add(scores[engine], world, result, time.process_time() - start)
        rows = [(name, engine, score) for engine, score in scores.items()]
        sys.stdout.write("\n".join(table(rows).splitlines()[2:]) + "\n")
        sys.stdout.flush()
        for engine, seen in tops.items():
            seen.extend(scores[engine].top)
    everything = []
    for engine, top in tops.items():
        score = Score(top=top)
        bins = " ".join(f"{s:.2f}→{r:.2f} ({n})" for s, r, n in score.bins())
        everything.append(f"{engine}: ECE {score.calibration_error:.3f}, {bins}")
    sys.stdout.write("\n" + "\n".join(everything) + "\n")
    PICTURE.write_text(diagram({k: Score(top=v).bins() for k, v in tops.items()}))


if __name__ == "__main__":
    main(int((sys.argv[1:] or ["20"])[0]), int((sys.argv[2:] or ["5000"])[0]), sys.argv[3:])
