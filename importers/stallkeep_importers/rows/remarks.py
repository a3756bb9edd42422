"""Rows that are remarks if nothing but remarks follows them, else rejects: held until it shows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

from stallkeep_importers.contract import Outcome, Reject, Skip
from stallkeep_importers.rows.strange_rows import between_pages

_MOST = 200


class Remark:
    """A row that may be a remark."""

    def __init__(self, as_skip: Skip, as_reject: Reject | Skip) -> None:
        self.as_skip = as_skip
        self.as_reject = as_reject


Found: TypeAlias = Outcome | Remark


class Remarks:
    """Holds remarks back until it shows whether data follow."""

    def __init__(self) -> None:
        self._held: list[Remark] = []

    def settled(self, found: Sequence[Found]) -> list[Outcome]:
        """Give what is certain so far, in file order."""
        if not self._held and Remark not in set(map(type, found)):
            return found  # type: ignore[return-value]
        settled: list[Outcome] = []
        for outcome in found:
            if isinstance(outcome, Remark):
                self._held.append(outcome)
            elif isinstance(outcome, Skip) and self._held:
                if outcome.code == "repeated-heading":
                    settled += [between_pages(remark.as_skip) for remark in self._held]
                    self._held.clear()
                    settled.append(outcome)
                else:
                    self._held.append(Remark(outcome, outcome))
            else:
                settled += self._rejected()
                settled.append(outcome)
            if len(self._held) > _MOST:
                settled += self._rejected()
        return settled

    def below_table(self) -> list[Outcome]:
        """Give those that nothing followed."""
        return [remark.as_skip for remark in self._held]

    def _rejected(self) -> list[Outcome]:
        rejected: list[Outcome] = [remark.as_reject for remark in self._held]
        self._held.clear()
        return rejected
