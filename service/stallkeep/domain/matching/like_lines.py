"""Lines that nothing tells apart: the same amount on the same day, without a word."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from stallkeep.domain.matching.line_problem import LineProblem


def like_lines(lines: Sequence[LineProblem]) -> list[list[int]]:
    """Find groups of two and more lines with the same weights for everything.

    Such lines may change places in any joint explanation without a change of its weight.

    Returns:
        Indices into *lines*, ascending within each group.
    """
    groups: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for i, line in enumerate(lines):
        if line.text is None and line.twin is None:
            weights = (line.units, line.single, line.bundle, line.extra, line.sizes)
            key = (line.paid, line.line.occurred_on, *(part.tobytes() for part in weights))
            groups[key].append(i)
    return [group for group in groups.values() if len(group) > 1]
