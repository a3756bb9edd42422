"""Writing exports, and remembering what should become of each record."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

Fate = Literal["taken", "changed", "known", "rejected", "skipped"]


@dataclass
class Sheet:
    """A file in the making.

    Attributes:
        name: File name.
        fates: What becomes of each record, in order; "changed" is taken as a new version.
        faults: Record number, header and cell of each record that cannot be taken.
    """

    name: str
    delimiter: str = ","
    encoding: str = "utf-8"
    header: tuple[str, ...] = ()
    rows: list[Sequence[str]] = field(default_factory=list)
    fates: list[Fate] = field(default_factory=list)
    faults: list[dict[str, str | int]] = field(default_factory=list)

    def put(self, *cells: str, fate: Fate = "taken") -> int:
        """Add a record and return its number, from 1."""
        self.rows.append(cells)
        self.fates.append(fate)
        return len(self.rows)

    def head(self, *cells: str) -> None:
        """Add the header."""
        self.header = cells
        self.put(*cells, fate="skipped")

    def spoil(self, column: str, *cells: str) -> None:
        """Add a record whose cell under *column* cannot be read."""
        record = self.put(*cells, fate="rejected")
        value = cells[self.header.index(column)]
        self.faults.append({"record": record, "column": column, "value": value})

    def counts(self) -> dict[str, int]:
        """Count the fates as an import reports them."""
        changed = self.fates.count("changed")
        return {
            "rows_read": len(self.fates),
            "taken": self.fates.count("taken") + changed,
            "changed": changed,
            "known": self.fates.count("known"),
            "rejected": self.fates.count("rejected"),
            "skipped": self.fates.count("skipped"),
        }

    def content(self) -> bytes:
        """Return the file as it is stored."""
        text = io.StringIO()
        csv.writer(text, delimiter=self.delimiter, lineterminator="\r\n").writerows(self.rows)
        return text.getvalue().encode(self.encoding)


def point(cents: int) -> str:
    """Write 1250 as 12.50."""
    sign = "-" if cents < 0 else ""
    return f"{sign}{abs(cents) // 100}.{abs(cents) % 100:02d}"


def comma(cents: int) -> str:
    """Write 1250 as 12,50."""
    return point(cents).replace(".", ",")
