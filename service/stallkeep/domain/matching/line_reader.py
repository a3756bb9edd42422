"""A line of money read against the rail: which prices and pieces it may have been for."""

from __future__ import annotations

import hashlib

import numpy as np

from stallkeep.domain.matching.habits import Beliefs
from stallkeep.domain.matching.line_problem import LineProblem
from stallkeep.domain.matching.modes import Floats, Ints
from stallkeep.domain.matching.money_line import MoneyLine, paid_for_pieces
from stallkeep.domain.matching.piece_evidence import line_odds
from stallkeep.domain.matching.rail import Rail
from stallkeep.domain.matching.signatures import (
    LARGEST_BUNDLE,
    Listed,
    list_signatures,
    polynomials,
)
from stallkeep.domain.matching.text_evidence import TextOdds, text_odds
from stallkeep.domain.matching.unpriced import unpriced_modes, with_unpriced


class LineReader:
    """Reads lines one after another; what equal ones share is worked out once."""

    def __init__(
        self,
        rail: Rail,
        beliefs: Beliefs,
        shares: tuple[Floats, Floats, Floats],
        boosts: dict[str, dict[str, float]],
    ) -> None:
        """Read against a rail.

        Args:
            rail: The pieces.
            beliefs: Parameters.
            shares: Expected shares of kinds, modes of one, modes of many.
            boosts: Per transaction id, further odds per item id.
        """
        self._rail = rail
        self._beliefs = beliefs
        self._shares = shares
        self._boosts = boosts
        self._known: dict[bytes, Listed] = {}
        self._unpriced: dict[int, tuple[Ints, Floats]] = {}

    def read(self, line: MoneyLine) -> LineProblem:
        """Find what a line may have been for."""
        rail = self._rail
        paid = paid_for_pieces(line)
        text = text_odds(line, rail.vocabulary, self._beliefs)
        single, bundle, sizes = self._odds(line, paid, text)
        listed = self._listed(paid, single, bundle, self._named(text))
        if len(rail.prices) and not rail.prices[0]:
            listed = self._with_unpriced(listed, paid)
        used = np.unique(listed.members[listed.members >= 0])
        keep = np.isin(rail.bucket, used) & rail.free & ((single > 0) | (bundle > 0))
        units = np.nonzero(keep)[0]
        prices, starts = np.unique(rail.bucket[units], return_index=True)
        local = _localised(listed, prices)
        extra = self._extra(paid, listed, text)
        return LineProblem(
            line, paid, units, starts, prices, single[units], bundle[units], local, extra, sizes,
            text=text,
        )  # fmt: skip

    def _odds(
        self, line: MoneyLine, paid: int, text: TextOdds | None
    ) -> tuple[Floats, Floats, Floats]:
        """Odds per unit in sets of one and of several, and a factor per number of pieces."""
        rail, units = self._rail, self._rail.units
        base = line_odds(
            units, line, paid, stub_days=rail.stub_days, stubs_kept=rail.stubs_kept,
            stub_lost=self._beliefs.chance("stub_lost"),
        )  # fmt: skip
        sizes = np.ones(LARGEST_BUNDLE + 1)
        for item, factor in self._boosts.get(line.transaction_id, {}).items():
            base[[units.pieces[i].item_id == item for i in units.item]] *= factor
        single, bundle = base, base
        if text is not None:
            codes = text.codes[units.item]
            single = base * codes * text.titles[units.item]
            # words speak of an item once, however many of it are in the set
            bundle = base * np.where(rail.first, codes * text.in_bundle[units.item], 1.0)
            sizes = text.sizes.copy()
        single, sizes = self._ruled(line, single, sizes)
        return single, bundle, sizes

    def _ruled(self, line: MoneyLine, single: Floats, sizes: Floats) -> tuple[Floats, Floats]:
        """Leave out the piece, and the numbers of pieces, that a person said it was not."""
        units = self._rail.units
        for ruling in self._rail.evidence.rulings:
            if ruling.transaction_id != line.transaction_id:
                continue
            if ruling.verdict == "refused" and len(ruling.item_ids) == 1:
                single = single.copy()
                single[[units.pieces[i].item_id == ruling.item_ids[0] for i in units.item]] = 0.0
            elif ruling.verdict == "count" and ruling.pieces is not None:
                sizes = sizes * (np.arange(LARGEST_BUNDLE + 1) == ruling.pieces)
        return single, sizes

    def _named(self, text: TextOdds | None) -> list[int]:
        """Price indices of the pieces whose codes a line names."""
        if text is None or not text.exact:
            return []
        rail = self._rail
        return [int(rail.bucket[np.argmax(rail.units.item == i)]) for i in text.named]

    def _listed(self, paid: int, single: Floats, bundle: Floats, named: list[int]) -> Listed:
        key = hashlib.blake2b(
            single.tobytes() + bundle.tobytes() + paid.to_bytes(8, "big")
        ).digest()
        if key not in self._known:
            self._known[key] = list_signatures(
                self._rail.universe,
                paid,
                self._rail.step,
                table_one=self._table(single),
                table_many=self._table(bundle),
                shares=self._shares,
                pieces=len(self._rail.units),
                named=named,
            )
        return self._known[key]

    def _table(self, odds: Floats) -> Floats:
        """Polynomials of all free units, one block of four per price, after a leading 1."""
        held = odds * self._rail.free
        powers = [self._rail.by_price(held**k) for k in (1, 2, 3, 4)]
        return np.concatenate([[1.0], np.array(polynomials(powers)).T.ravel()])

    def _with_unpriced(self, listed: Listed, paid: int) -> Listed:
        rail = self._rail
        if paid not in self._unpriced:
            weights = rail.by_price(rail.free.astype(np.float64))
            otherwise = rail.any_amount.likelihood(paid)
            self._unpriced[paid] = unpriced_modes(
                rail.prices, weights, paid, rail.step, otherwise=otherwise
            )
        return with_unpriced(listed, *self._unpriced[paid])

    def _extra(self, paid: int, listed: Listed, text: TextOdds | None) -> Floats:
        none = text.none if text else 1.0
        untagged = self._rail.any_amount.untagged(paid) / none
        return np.array([untagged, 0.0, *listed.unlisted[2:]])


def _localised(listed: Listed, prices: Ints) -> Listed:
    """Let the columns point into a table of the line's own prices only."""
    width = LARGEST_BUNDLE
    known = listed.members < 0
    place = np.searchsorted(prices, np.where(known, 0, listed.members))
    usable = known | (
        (place < len(prices)) & (prices[np.minimum(place, len(prices) - 1)] == listed.members)
        if len(prices)
        else known
    )
    rows = usable.all(axis=1)
    times = np.where(listed.columns > 0, (listed.columns - 1) % width + 1, 0)
    columns = np.where(listed.columns > 0, place * width + times, 0)
    return Listed(
        listed.sizes[rows],
        columns[rows],
        listed.members[rows],
        listed.modes[rows],
        listed.unlisted,
    )
