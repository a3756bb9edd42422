"""Chances learned while chains warm up: slips of the count, pieces gone, wrong codes, lost stubs.

They are the same for all chains, the expected ones given what the chains take the lines to be for.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stallkeep.domain.matching.modes import Bools, Floats, Ints
from stallkeep.domain.matching.piece_evidence import gone_given_no_line, sold_odds
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.sampled_line import SampledLine
from stallkeep.domain.matching.text_evidence import code_ratio

LIKELY = 0.5


class ChainChances:
    """Chances as they are held now.

    Attributes:
        odds: Per unit, likelihood ratio of being sold by a line.
        code_scale: Odds of a noted code against those of the prior.
        lost_scale: Odds of a missing stub against those of the prior.
        gains: Hits and misses by name.
    """

    def __init__(self, problem: Problem) -> None:
        self._beliefs = problem.beliefs
        self._units = problem.units
        self._unstubbed = problem.unstubbed
        self._chance = {name: self._beliefs.chance(name) for name in self._beliefs.chances}
        self.odds = sold_odds(self._units, self._chance)
        self.code_scale = self.lost_scale = 1.0
        self.gains: dict[str, tuple[float, float]] = {}

    def learn(self, lines: Sequence[SampledLine], held: Ints, sold: Floats) -> None:
        """Learn from what the chains hold now.

        Args:
            lines: The lines.
            held: Lines x 4 x chains, indices of units; a number beyond the last for none.
            sold: Per unit, share of the chains that hold it, or settled before.
        """
        self._slips(sold)
        self._wrong_codes(lines, held)
        self._lost_stubs(lines, held)
        self.odds = sold_odds(self._units, self._chance)

    def _slips(self, sold: Floats) -> None:
        units = self._units
        gone = (1 - sold) * gone_given_no_line(units, self._chance)
        home = 1 - sold - gone
        counted = units.counted >= 0
        yes_no: dict[str, tuple[Floats, Bools]] = {
            "counted_though_sold": (sold + gone, units.counted == 1),
            "missed_though_home": (home, units.counted == 0),
        }
        for name, (share, hit) in yes_no.items():
            self._learn(name, float(share[hit].sum()), float(share[counted].sum()))
        if counted.any() or units.stub.any():
            plain = units.elsewhere < LIKELY
            hits, asked = float(gone[plain].sum()), float((1 - sold)[plain].sum())
            self._learn("gone_without_line", hits, asked)

    def _wrong_codes(self, lines: Sequence[SampledLine], held: Ints) -> None:
        """Share of noted codes that were not of a piece sold."""
        hits, asked = 0.0, 0
        for line, units in zip(lines, held, strict=True):
            if line.coded is not None:
                right = float(np.isin(units, line.units[line.coded]).any(axis=0).mean())
                hits, asked = hits + 1 - right, asked + 1
        before = code_ratio(self._beliefs.chance("code_is_wrong"), 1)
        self._learn("code_is_wrong", hits, asked)
        self.code_scale = code_ratio(self._chance["code_is_wrong"], 1) / before

    def _lost_stubs(self, lines: Sequence[SampledLine], held: Ints) -> None:
        """Share of pieces sold on days with stubs whose stub is not there."""
        mine = held[[line.lost is not None for line in lines]]
        if not mine.size:
            return
        sold, chains = mine[mine < len(self._units)], held.shape[2]
        lost = float(self._unstubbed[sold].sum())
        self._learn("stub_lost", lost / chains, len(sold) / chains)
        self.lost_scale = self._chance["stub_lost"] / self._beliefs.chance("stub_lost")

    def _learn(self, name: str, hits: float, asked: float) -> None:
        yes, no = self._beliefs.chances[name]
        self._chance[name] = (yes + hits) / (yes + no + asked)
        self.gains[name] = hits, max(asked - hits, 0.0)
