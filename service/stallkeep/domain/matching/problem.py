"""Evidence brought into arrays: one problem of units and lines, in an order of its own."""

from __future__ import annotations

import datetime as dt
import hashlib
import math
from collections import defaultdict
from collections.abc import Callable

import msgspec
import numpy as np

from stallkeep.domain.matching.amounts import price_step
from stallkeep.domain.matching.any_amount import AnyAmount
from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.habits import KINDS, Beliefs
from stallkeep.domain.matching.modes import Bools, Floats, Ints
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.piece_evidence import (
    Units,
    line_odds,
    stubs_kept,
    tag_price,
    written_odds,
)
from stallkeep.domain.matching.signatures import (
    LARGEST_BUNDLE,
    Listed,
    Universe,
    list_signatures,
    polynomials,
)
from stallkeep.domain.matching.text_evidence import TextOdds, Vocabulary, text_odds
from stallkeep.domain.matching.unpriced import unpriced_modes, with_unpriced
from stallkeep.domain.tag_codes import normalise

DOUBLE_WITHIN = dt.timedelta(minutes=6)
DOUBLE_SPEEDUP = 6.0  # a doubled charge follows that much closer than the next customer would
EXTRA = ("untagged", "double_charge", "two", "three", "four")


SetLikelihood = Callable[[tuple[int, ...], int], float]  # tag prices ascending, amount paid


class LineProblem(msgspec.Struct):
    """One line and everything it may have been for.

    Attributes:
        line: As given.
        paid: Minor units paid for pieces: no tip, no tax on top, no postage.
        units: Indices of units that may be meant, ascending.
        starts: Where each price of *prices* begins in *units*.
        prices: Indices of distinct prices met, ascending.
        single, bundle: Odds per entry of *units* in sets of one, of several.
        listed: Signatures; their columns point into the line's own table.
        extra: Weights of the explanations EXTRA, apart from the shares of kinds.
        sizes: Factor per number of pieces (0..4).
        twin: Transaction id of the line this may be a doubled charge of.
        text: What the words said.
    """

    line: MoneyLine
    paid: int
    units: Ints
    starts: Ints
    prices: Ints
    single: Floats
    bundle: Floats
    listed: Listed
    extra: Floats
    sizes: Floats
    twin: str | None = None
    text: TextOdds | None = None


class Problem:
    """A whole event, less what is settled already."""

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
        self.evidence = evidence
        self.beliefs = beliefs
        self.units = Units(evidence)
        self.free = _free(self.units, taken)
        self.first = _first_free(self.units.item, self.free)
        priced = self.units.price[self.units.price > 0]
        self.step = price_step([int(p) for p in priced], evidence.unit_minor)
        self.prices, self.bucket = np.unique(self.units.price, return_inverse=True)
        counts = np.bincount(self.bucket[self.free], minlength=len(self.prices))
        self.universe = Universe(self.prices, np.where(self.prices > 0, counts, 0))
        self.vocabulary = Vocabulary(self.units.pieces)
        self.vocabulary.listen(evidence.lines)
        self.typical = int(np.median(priced)) if len(priced) else 25 * self.step
        self.shares = (
            beliefs.kind / beliefs.kind.sum(),
            beliefs.one / beliefs.one.sum(),
            beliefs.many / beliefs.many.sum(),
        )
        number = [math.comb(len(self.units), n) for n in range(1, LARGEST_BUNDLE + 1)]
        self.per_set = np.array([0.0, *(1.0 / max(n, 1) for n in number)])
        self.any_amount = AnyAmount([int(p) for p in priced], self.typical, self.step)
        self.stub_days = self._stub_days()
        self.stubs_kept = stubs_kept(evidence)
        self.unstubbed = np.array(
            [int(i) not in self.stub_days for i in self.units.item], dtype=bool
        )
        self.boosts = boosts
        self.place = {piece.item_id: i for i, piece in enumerate(self.units.pieces)}
        self.price_of = {p.item_id: tag_price(p) for p in self.units.pieces}
        self.piece_odds: dict[int, float] = {}
        self.cache: dict[bytes, Listed] = {}
        self.unpriced: dict[int, tuple[Ints, Floats]] = {}
        self.lines = [self._line(line) for line in sorted(lines, key=line_order)]
        self._find_twins()

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

    def _stub_days(self) -> dict[int, frozenset[dt.date]]:
        by_code: dict[str, set[dt.date]] = defaultdict(set)
        for stub in self.evidence.stubs:
            by_code[normalise(stub.code)].add(stub.day)
        return {
            i: frozenset(by_code[normalise(p.tag_code)])
            for i, p in enumerate(self.units.pieces)
            if p.tag_code and normalise(p.tag_code) in by_code
        }

    def _line(self, line: MoneyLine) -> LineProblem:
        paid = paid_for_pieces(line)
        text = text_odds(line, self.vocabulary, self.beliefs)
        single, bundle, sizes = self._odds(line, paid, text)
        listed = self._listed(paid, single, bundle, self._named(text))
        if len(self.prices) and not self.prices[0]:
            listed = self._with_unpriced(listed, paid)
        used = np.unique(listed.members[listed.members >= 0])
        keep = np.isin(self.bucket, used) & self.free & ((single > 0) | (bundle > 0))
        units = np.nonzero(keep)[0]
        prices, starts = np.unique(self.bucket[units], return_index=True)
        local = _localised(listed, prices)
        extra = self._extra(paid, listed, text)
        return LineProblem(
            line, paid, units, starts, prices, single[units], bundle[units], local, extra, sizes,
            text=text,
        )  # fmt: skip

    def _with_unpriced(self, listed: Listed, paid: int) -> Listed:
        if paid not in self.unpriced:
            weights = self.by_price(self.free.astype(np.float64))
            otherwise = self.any_amount.likelihood(paid)
            self.unpriced[paid] = unpriced_modes(
                self.prices, weights, paid, self.step, otherwise=otherwise
            )
        return with_unpriced(listed, *self.unpriced[paid])

    def _odds(
        self, line: MoneyLine, paid: int, text: TextOdds | None
    ) -> tuple[Floats, Floats, Floats]:
        base = line_odds(
            self.units, line, paid, stub_days=self.stub_days, stubs_kept=self.stubs_kept,
            stub_lost=self.beliefs.chance("stub_lost"),
        )  # fmt: skip
        sizes = np.ones(LARGEST_BUNDLE + 1)
        for item, factor in self.boosts.get(line.transaction_id, {}).items():
            base[[self.units.pieces[i].item_id == item for i in self.units.item]] *= factor
        single, bundle = base, base
        if text is not None:
            codes = text.codes[self.units.item]
            single = base * codes * text.titles[self.units.item]
            # words speak of an item once, however many of it are in the set
            bundle = base * np.where(self.first, codes * text.in_bundle[self.units.item], 1.0)
            sizes = text.sizes.copy()
        for ruling in self.evidence.rulings:
            if ruling.transaction_id != line.transaction_id:
                continue
            if ruling.verdict == "refused" and len(ruling.item_ids) == 1:
                single = single.copy()
                ids = [self.units.pieces[i].item_id == ruling.item_ids[0] for i in self.units.item]
                single[ids] = 0.0
            elif ruling.verdict == "count" and ruling.pieces is not None:
                sizes = sizes * (np.arange(LARGEST_BUNDLE + 1) == ruling.pieces)
        return single, bundle, sizes

    def _named(self, text: TextOdds | None) -> list[int]:
        """Price indices of the pieces whose codes a line names."""
        if text is None or not text.exact:
            return []
        return [int(self.bucket[np.argmax(self.units.item == i)]) for i in text.named]

    def _listed(self, paid: int, single: Floats, bundle: Floats, named: list[int]) -> Listed:
        key = hashlib.blake2b(single.tobytes() + bundle.tobytes() + paid.to_bytes(8, "big"))
        if key.digest() not in self.cache:
            self.cache[key.digest()] = list_signatures(
                self.universe,
                paid,
                self.step,
                table_one=self._table(single),
                table_many=self._table(bundle),
                shares=self.shares,
                pieces=len(self.units),
                named=named,
            )
        return self.cache[key.digest()]

    def by_price(self, values: Floats) -> Floats:
        """Sum a value per unit over the units of each price."""
        sums: Floats = np.bincount(self.bucket, values, minlength=len(self.prices)).astype(float)
        return sums

    def _table(self, odds: Floats) -> Floats:
        """Polynomials of all free units, one block of four per price, after a leading 1."""
        held = odds * self.free
        powers = [self.by_price(held**k) for k in (1, 2, 3, 4)]
        return np.concatenate([[1.0], np.array(polynomials(powers)).T.ravel()])

    def _extra(self, paid: int, listed: Listed, text: TextOdds | None) -> Floats:
        none = text.none if text else 1.0
        untagged = self.any_amount.likelihood(paid) / none
        return np.array([untagged, 0.0, *listed.unlisted[2:]])

    def _find_twins(self) -> None:
        """Point each line to the nearest earlier one that it may repeat by mistake."""
        for i, late in enumerate(self.lines):
            for j in range(i - 1, -1, -1):
                early = self.lines[j]
                if late.line.occurred_at is None or early.line.occurred_at is None:
                    break
                if late.line.occurred_at - early.line.occurred_at > DOUBLE_WITHIN:
                    break
                same = late.line.amount_minor == early.line.amount_minor
                if same and late.line.method == early.line.method == "card":
                    late.twin = early.line.transaction_id
                    late.extra[EXTRA.index("double_charge")] = DOUBLE_SPEEDUP
                    break


def line_order(line: MoneyLine) -> tuple[object, ...]:
    """Chronological, then by id: the order a day was in."""
    moment = line.occurred_at.timestamp() if line.occurred_at else 0.0
    return (line.occurred_on, moment, line.transaction_id)


def paid_for_pieces(line: MoneyLine) -> int:
    """The part of a line's amount that pieces were paid with, minor units, never negative."""
    away = (line.tip_minor or 0) + (line.postage_minor or 0)
    if line.tax_added:
        away += line.tax_minor or 0
    return max(line.amount_minor - away, 0)


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


def seed_of(evidence: Evidence) -> int:
    """A number that depends on the evidence and not on its order."""
    parts = sorted(msgspec.json.encode(x) for x in (*evidence.lines, *evidence.pieces))
    parts += sorted(
        msgspec.json.encode(x)
        for x in (
            *evidence.rulings,
            *evidence.piece_rulings,
            *evidence.stubs,
            *evidence.ring_ups,
            *evidence.cash_totals,
        )
    )
    return int.from_bytes(hashlib.blake2b(b"\n".join(parts), digest_size=8).digest(), "big")


KIND_OF_EXTRA = np.array([KINDS.index(name) for name in EXTRA])
