"""Counting what becomes of an import's rows."""

from __future__ import annotations

from collections import Counter

from stallkeep_importers.contract import Layout, Notice


class Tally:
    """The counts of one import while it runs; rows read = taken + known + rejected + skipped.

    Attributes:
        rows_read: Outcomes handed back so far.
        taken: Rows stored, changed ones included.
        changed: Rows that became a new version of something stored.
        known: Rows that were stored before.
        rejected: Rows kept with a reason.
        skips: Rows left out on purpose, by code.
        notices: What the seller should know about the file.
        layout: How the file was read.
    """

    def __init__(self) -> None:
        self.rows_read = 0
        self.taken = 0
        self.changed = 0
        self.known = 0
        self.rejected = 0
        self.skips: Counter[str] = Counter()
        self.notices: list[Notice] = []
        self.layout: Layout | None = None

    @property
    def skipped(self) -> int:
        """Rows left out on purpose."""
        return self.skips.total()
