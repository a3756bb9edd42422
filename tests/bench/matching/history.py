"""What earlier events of the same seller bring: ``python -m tests.bench.matching.history``.

Arguments: ``[sellers] [events] [first seed] [profile …]``. Each seller holds several events one
after another; what an event has taught is given to the next. The ceiling knows the seller from
the first event on. Prints one row per event.
"""

from __future__ import annotations

import itertools
import sys
import time

import msgspec
from tests.bench.matching.reference import know_all
from tests.bench.matching.scoring import Score, add, table
from tests.bench.matching.worlds import PROFILES, worlds_of_one_seller

from stallkeep.domain.matching import Habits, reconcile


def main(sellers: int, events: int, first: int, names: list[str]) -> None:
    """Run the named profiles."""
    sys.stdout.write(table([]) + "\n")
    for name in names:
        ours, ceiling = ([Score() for _ in range(events)] for _ in range(2))
        for seed in range(first, first + sellers):
            habits = Habits()
            worlds = itertools.islice(worlds_of_one_seller(PROFILES[name], seed), events)
            for event, world in enumerate(worlds):
                start = time.process_time()
                answer = reconcile(msgspec.structs.replace(world.evidence, habits=habits))
                add(ours[event], world, answer, time.process_time() - start)
                habits = answer.habits
                if event in (0, events - 1):
                    start = time.process_time()
                    known = know_all(world)
                    add(ceiling[event], world, known, time.process_time() - start)
        for event in range(events):
            rows = [(f"{name}, event {event + 1}", "ours", ours[event])]
            if ceiling[event].lines:
                rows.append((f"{name}, event {event + 1}", "ceiling", ceiling[event]))
            sys.stdout.write("\n".join(table(rows).splitlines()[2:]) + "\n")
            sys.stdout.flush()


if __name__ == "__main__":
    many, long, seed = [int(x) for x in sys.argv[1:4]] + [10, 6, 6000][len(sys.argv[1:4]) :]
    main(many, long, seed, sys.argv[4:] or ["easy", "typical", "typical_count", "haggler"])
