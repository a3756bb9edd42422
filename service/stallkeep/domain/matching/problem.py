"""A whole event as one problem: the pieces, the lines to be explained by them, and the weights."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable

import numpy as np

from stallkeep.domain.matching.double_charges import find_twins
from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.habits import Beliefs
from stallkeep.domain.matching.line_problem import LineProblem
from stallkeep.domain.matching.line_reader import LineReader
from stallkeep.domain.matching.modes import Bools, Floats
from stallkeep.domain.matching.money_line import MoneyLine, line_order
from stallkeep.domain.matching.piece_evidence import written_odds
from stallkeep.domain.matching.rail import Rail
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE, polynomials
from stallkeep.domain.tag_codes import normalise

SetLikelihood = Callable[[tuple[int, ...], int], float]  # tag prices ascending, amount paid


class Problem(Rail):
    """A rail and the lines of money that it is to explain, less what is settled already.

    Attributes:
        beliefs: Parameters.
        boosts: Per transaction id, further odds per item id.
        shares: Shares of kinds, of modes of one, of modes of many.
        per_set: One over the number of sets of 0..4 pieces; 0 for none.
        lines: The lines, in the order of the day.
        piece_odds: Index of a piece to its odds, once a run has learned them.
    """

    def __init__(
        self,
        evidence: Evidence,
        lines: list[MoneyLine],
        beliefs: Beliefs,
        *,
        taken: dict[str, int],
        boosts: dict[str, dict[str, float]],
    ) -> None:
        """Build the arrays.

        Args:
            evidence: As given.
            lines: Lines to explain.
            beliefs: Parameters.
            taken: Units per item id that are settled already.
            boosts: Per transaction id, further odds per item id (ring-ups, stubs in order).
        """
        super().__init__(evidence, taken)
        self.beliefs = beliefs
        self.boosts = boosts
        self.shares = (
            beliefs.kind / beliefs.kind.sum(),
            beliefs.one / beliefs.one.sum(),
            beliefs.many / beliefs.many.sum(),
        )
        number = [math.comb(len(self.units), n) for n in range(1, LARGEST_BUNDLE + 1)]
        self.per_set = np.array([0.0, *(1.0 / max(n, 1) for n in number)])
        self.piece_odds: dict[int, float] = {}
        reader = LineReader(self, beliefs, self.shares, boosts)
        self.lines = [reader.read(line) for line in sorted(lines, key=line_order)]
        find_twins(self.lines)

    def money(self, minor: int) -> str:
        """Write an amount with the currency's digits, without its name."""
        unit = self.evidence.unit_minor
        if unit == 1:
            return str(minor)
        return f"{minor // unit}.{minor % unit:0{len(str(unit)) - 1}d}"

    def believe(self, kind: Floats, one: Floats, many: Floats, odds: Floats) -> None:
        """Keep what a run has learned (counts or shares), for reasons and questions."""
        self.shares = (kind / kind.sum(), one / one.sum(), many / many.sum())
        best: dict[int, float] = {}
        for u, i in enumerate(self.units.item):
            best[int(i)] = max(best.get(int(i), 0.0), float(odds[u]))
        self.piece_odds = {i: best.get(i, 1.0) for i in range(len(self.units.pieces))}

    def leave_out(self, answered: frozenset[str]) -> None:
        """Take away lines that are answered, and the pieces whose stubs were of those days."""
        if not answered:
            return
        days = {x.line.occurred_on for x in self.lines if x.line.transaction_id in answered}
        for u, i in enumerate(self.units.item):
            kept = self.stub_days.get(int(i), frozenset())
            self.free[u] &= not (self.units.stub[u] == 1 and kept and kept <= days)
        self.lines = [x for x in self.lines if x.line.transaction_id not in answered]

    def read_written_prices(self) -> None:
        """Weigh the prices written on stubs for the lines of their days, where no order settles."""
        first: dict[tuple[dt.date, str], int] = {}
        for stub in self.evidence.stubs:
            if stub.price_minor is not None:
                first.setdefault((stub.day, normalise(stub.code)), stub.price_minor)
        days = {day for day, _ in first}
        codes = [normalise(p.tag_code) if p.tag_code else "" for p in self.units.pieces]
        for line in self.lines:
            day = line.line.occurred_on
            if day in days:
                price = np.array([first.get((day, code), -1) for code in codes], dtype=np.int64)
                written = price[self.units.item[line.units]]
                single, several = written_odds(written, line.paid)
                line.single, line.bundle = line.single * single, line.bundle * several

    def set_prior(self, size: int) -> float:
        """Share of sales of that many pieces, over the number of such sets on the rail."""
        return float(self.shares[0][size - 1] * self.per_set[size])

    def listed_weights(
        self, line: LineProblem, odds: Floats, likelihood: SetLikelihood | None = None
    ) -> Floats:
        """Weight of each listed signature, for unit odds *odds* and expected habits."""
        if not len(line.units):
            return np.zeros(0)
        sizes = line.listed.sizes
        shares = np.array([0.0, *self.shares[0][:LARGEST_BUNDLE]])[sizes]
        amounts = self._amount_weights(line, sizes == 1, likelihood)
        weights: Floats = self.set_weights(line, odds) * shares * amounts
        return weights

    def set_weights(self, line: LineProblem, odds: Floats) -> Floats:
        """Weight of each listed signature but for the amount and the share of its size."""
        if not len(line.units):
            return np.zeros(0)
        sizes, columns = line.listed.sizes, line.listed.columns
        split = int(np.searchsorted(sizes, 2))
        single = line.single * odds[line.units]
        alone = np.append(1.0, np.add.reduceat(single, line.starts))
        weights: Floats = (self.per_set * line.sizes)[sizes]
        weights[:split] *= alone[(columns[:split, 0] - 1) // LARGEST_BUNDLE + 1]
        if split < len(sizes):
            held = single if line.bundle is line.single else line.bundle * odds[line.units]
            powers = [np.add.reduceat(held**k, line.starts) for k in (1, 2, 3, 4)]
            table = np.append(1.0, np.array(polynomials(powers)).T.ravel())
            weights[split:] *= table[columns[split:]].prod(axis=1)
        return weights

    def _amount_weights(
        self,
        line: LineProblem,
        single: Bools,
        likelihood: SetLikelihood | None,
    ) -> Floats:
        if likelihood is None:
            modes = line.listed.modes
            mixed: Floats = np.where(single, modes @ self.shares[1], modes @ self.shares[2])
            return mixed
        rows = [tuple(int(self.prices[b]) for b in row if b >= 0) for row in line.listed.members]
        return np.array([likelihood(row, line.paid) for row in rows])
