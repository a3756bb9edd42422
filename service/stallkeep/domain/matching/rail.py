"""The pieces that may have been sold, in arrays: units, their prices, and which are still free."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict

import numpy as np

from stallkeep.domain.matching.amounts import price_step
from stallkeep.domain.matching.any_amount import AnyAmount
from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.modes import Bools, Floats, Ints
from stallkeep.domain.matching.piece_evidence import Units, stubs_kept, tag_price
from stallkeep.domain.matching.signatures import Universe
from stallkeep.domain.matching.text_evidence import Vocabulary
from stallkeep.domain.tag_codes import normalise


class Rail:
    """The pieces, less what is settled already.

    Attributes:
        evidence: As given.
        units: Single pieces, in an order of their own.
        free: Per unit, whether it is still to be explained.
        first: Per unit, whether it is the first of its item that is free.
        step: Step of the prices, minor units.
        prices: Distinct tag prices, ascending, minor units.
        bucket: Per unit, the index of its price.
        universe: All sets of prices.
        vocabulary: Words and codes of the pieces, and what is written beside the lines.
        any_amount: How likely each amount is for something without a tag.
        stub_days: Index of a piece to the days of its stubs.
        stubs_kept: Days whose stubs were kept.
        unstubbed: Per unit, whether there is no stub of its piece.
        place: Item id to the index of its piece.
        price_of: Item id to its tag price, minor units.
    """

    def __init__(self, evidence: Evidence, taken: dict[str, int]) -> None:
        """Build the arrays.

        Args:
            evidence: As given.
            taken: Units per item id that are settled already.
        """
        self.evidence = evidence
        self.units = Units(evidence)
        self.free = _free(self.units, taken)
        self.first = _first_free(self.units.item, self.free)
        priced = [int(p) for p in self.units.price[self.units.price > 0]]
        self.step = price_step(priced, evidence.unit_minor)
        self.prices, self.bucket = np.unique(self.units.price, return_inverse=True)
        counts = np.bincount(self.bucket[self.free], minlength=len(self.prices))
        self.universe = Universe(self.prices, np.where(self.prices > 0, counts, 0))
        self.vocabulary = Vocabulary(self.units.pieces)
        self.vocabulary.listen(evidence.lines)
        typical = int(np.median(priced)) if priced else 25 * self.step
        self.any_amount = AnyAmount(priced, typical, self.step)
        self.stub_days = _stub_days(self.units, evidence)
        self.stubs_kept = stubs_kept(evidence)
        self.unstubbed = np.array(
            [int(i) not in self.stub_days for i in self.units.item], dtype=bool
        )
        self.place = {piece.item_id: i for i, piece in enumerate(self.units.pieces)}
        self.price_of = {p.item_id: tag_price(p) for p in self.units.pieces}

    def by_price(self, values: Floats) -> Floats:
        """Sum a value per unit over the units of each price."""
        sums: Floats = np.bincount(self.bucket, values, minlength=len(self.prices)).astype(float)
        return sums


def _free(units: Units, taken: dict[str, int]) -> Bools:
    """Which units are still to be explained; settled ones leave from the likeliest sold."""
    free = np.ones(len(units), dtype=bool)
    for item, count in taken.items():
        mine = [u for u in range(len(units)) if units.pieces[units.item[u]].item_id == item]
        for u in sorted(mine, key=lambda u: (units.counted[u], -units.stub[u], u))[:count]:
            free[u] = False
    return free


def _first_free(item: Ints, free: Bools) -> Bools:
    """Per unit, whether it is the first of its item that is still free."""
    places = np.nonzero(free)[0]
    first = np.zeros(len(item), dtype=bool)
    first[places[np.unique(item[places], return_index=True)[1]]] = True
    return first


def _stub_days(units: Units, evidence: Evidence) -> dict[int, frozenset[dt.date]]:
    by_code: dict[str, set[dt.date]] = defaultdict(set)
    for stub in evidence.stubs:
        by_code[normalise(stub.code)].add(stub.day)
    return {
        i: frozenset(by_code[normalise(p.tag_code)])
        for i, p in enumerate(units.pieces)
        if p.tag_code and normalise(p.tag_code) in by_code
    }
