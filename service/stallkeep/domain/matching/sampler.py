"""Posterior probabilities by many Markov chains side by side, one column each.

A step takes one line out of a chain, weighs all its price signatures given the pieces the other
lines left (summing over pieces in closed form), draws one, then draws the pieces. After each sweep
every chain draws its own habits (conjugate Dirichlet), so uncertainty about the seller's ways is
part of the answer. Probabilities are averages of the conditional weights, not of counts
(Rao-Blackwell), which makes a few hundred draws go a long way.

Source: Liu, Wong, Kong (1994) for the averaging and the collapsing; Gelman and Rubin (1992) for
the scale reduction that reports convergence.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator

import numpy as np

from stallkeep.domain.matching.first_look import FirstLook
from stallkeep.domain.matching.habits import KINDS, named_gains
from stallkeep.domain.matching.modes import MODES, Bools, Floats, Ints
from stallkeep.domain.matching.piece_evidence import gone_given_no_line, sold_odds
from stallkeep.domain.matching.problem import EXTRA, KIND_OF_EXTRA, LineProblem, Problem
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE, polynomials
from stallkeep.domain.matching.text_evidence import code_ratio

LIKELY = 0.5
PAIRS_PER_LINES = 12
LEAST_RIVALRY = 0.01
FEWER = np.arange(LARGEST_BUNDLE, dtype=np.float64)[:, None]
STILL = 1e-6  # variance of a probability below which a chain counts as standing still

AmountLikelihood = Callable[[LineProblem], Floats]


class LineSums:
    """What is gathered about one line over all kept sweeps.

    Attributes:
        signature: Mean probability per signature, then per EXTRA.
        single: Mean probability per unit of being the only piece.
        sets: S x C x 4 unit indices drawn, ascending, -1 for none; size-0 draws all -1.
        choices: S x C column drawn.
        path: S x C conditional probability of the reference column, for the scale reduction.
        weight: Mean of the unnormalised conditional total, for reports.
    """

    def __init__(self, problem: LineProblem, sweeps: int, chains: int) -> None:
        columns = len(problem.listed.sizes) + len(EXTRA)
        self.signature = np.zeros(columns)
        self.single = np.zeros(len(problem.units))
        self.sets = np.full((sweeps, chains, LARGEST_BUNDLE), -1, dtype=np.int32)
        self.choices = np.zeros((sweeps, chains), dtype=np.int32)
        self.path = np.zeros((sweeps, chains))
        self.reference = 0


class _Places:
    """Where things of one line lie.

    Attributes:
        sizes: First and one past the last listed signature of one piece, two, three, four.
        bundles, triples: First listed signature of two pieces, of three.
        members: Listed signatures' prices as indices of the line's own prices; -1 for none.
        price: Index of the line's own prices, per unit.
        bounds: Where the units of each own price begin, and the end.
        alike: Per item that words speak of and that has several units: their places, and the
            odds of the words, which the first free unit carries in bundles.
    """

    def __init__(self, line: LineProblem, problem: Problem) -> None:
        bucket = problem.bucket
        listed = line.listed
        starts = np.searchsorted(listed.sizes, np.arange(1, LARGEST_BUNDLE + 2)).tolist()
        self.sizes = list(itertools.pairwise(starts))
        self.bundles, self.triples = starts[1:3]
        own = np.searchsorted(line.prices, listed.members)
        self.members = np.where(listed.members >= 0, own, -1)
        self.price = np.searchsorted(line.prices, bucket[line.units])
        self.bounds = np.append(line.starts, len(line.units))
        self.alike = list(_alike(line, problem.units.item[line.units]))


class Sampler:
    """A run of the chains over one problem."""

    def __init__(
        self,
        problem: Problem,
        *,
        chains: int,
        warm: int,
        sweeps: int,
        seed: int,
        learn: bool = True,
        likelihood: AmountLikelihood | None = None,
        start: FirstLook | None = None,
    ) -> None:
        """Prepare.

        Args:
            problem: What to explain.
            chains: Chains side by side.
            warm: Sweeps that are thrown away.
            sweeps: Sweeps that are kept.
            seed: For the generator; the same seed gives the same answer.
            learn: Draw habits; otherwise the expected ones stay.
            likelihood: K x 1 likelihoods of a line's signatures, in place of the modes.
            start: Kind of seller and first habits of each chain; none means those expected.
        """
        self.problem = problem
        self.chains, self.warm, self.sweeps = chains, warm, sweeps
        self.rng = np.random.default_rng(seed)
        self.learn = learn
        self.likelihood = likelihood
        self.lines = problem.lines
        self.free = np.repeat(problem.free[:, None], chains, axis=1)
        self.held = np.full((len(self.lines), LARGEST_BUNDLE, chains), -1, dtype=np.int64)
        self.choice = np.zeros((len(self.lines), chains), dtype=np.int64)
        self.chance = {name: problem.beliefs.chance(name) for name in problem.beliefs.chances}
        self.used = np.zeros(len(problem.units))
        self.sums = [LineSums(line, sweeps, chains) for line in self.lines]
        self.left = self.free.sum(axis=0).astype(np.float64)
        self.modes_used = [np.nonzero(line.listed.modes.any(axis=0))[0] for line in self.lines]
        self.own_modes = [
            line.listed.modes[:, used]
            for line, used in zip(self.lines, self.modes_used, strict=True)
        ]
        self.own_odds: dict[int, tuple[Floats, Floats]] = {}
        self.places = [_Places(line, problem) for line in self.lines]
        self.fixed = [likelihood(line) if likelihood else None for line in self.lines]
        self.coded = [self._coded_units(line) for line in self.lines]
        self.code_scale = 1.0
        self.lost_scale = 1.0
        self.most_alike = [_most_alike(line) for line in self.lines]
        self._believe_priors(start)

    def _coded_units(self, line: LineProblem) -> Ints | None:
        """Places among the line's units whose code its note names exactly."""
        if line.text is None or not line.text.exact:
            return None
        return np.nonzero(np.isin(self.problem.units.item[line.units], line.text.named))[0]

    def _believe_priors(self, start: FirstLook | None) -> None:
        beliefs = self.problem.beliefs
        self.odds = sold_odds(self.problem.units, self.chance)
        self.kind = start.kind if start else self._mean(beliefs.kind)
        self.one = start.one if start else self._mean(beliefs.one)
        self.many = start.many if start else self._mean(beliefs.many)
        self.one_prior = start.one_prior if start else beliefs.one[:, None]
        self.many_prior = start.many_prior if start else beliefs.many[:, None]
        self.one_mean = np.zeros(len(MODES))
        self.many_mean = np.zeros(len(MODES))
        self.kind_gain = np.zeros(len(KINDS))
        self.one_gain = np.zeros(len(MODES))
        self.many_gain = np.zeros(len(MODES))
        self.chance_gain: dict[str, tuple[float, float]] = {}

    def _mean(self, counts: Floats) -> Floats:
        return np.repeat((counts / counts.sum())[:, None], self.chains, axis=1)

    def run(self) -> None:
        """All sweeps; results are in *sums*, *used* and the learned habits."""
        self.present = np.zeros(len(self.lines), dtype=bool)
        for sweep in range(self.warm + self.sweeps):
            kept = sweep - self.warm
            order = self._order(sweep)
            for i in order:
                self._step(int(i), kept)
            for i, j in self._rivals():
                self._step_both(i, j)
            if kept >= 0:
                self.used += (~self.free & self.problem.free[:, None]).mean(axis=1)
            self._after_sweep(sweep)
        if self.sweeps:
            self._average()

    def _order(self, sweep: int) -> Ints:
        if sweep == 0:
            width = [len(line.listed.sizes) for line in self.lines]
            return np.argsort(np.array(width, dtype=np.int64), kind="stable")
        return self.rng.permutation(len(self.lines))

    def _average(self) -> None:
        for sums in self.sums:
            sums.signature /= self.sweeps
            sums.single /= self.sweeps
        self.used /= self.sweeps
        self.kind_gain /= self.sweeps
        self.one_gain /= self.sweeps
        self.many_gain /= self.sweeps

    # two lines at once, all chains

    def _rivals(self) -> list[tuple[int, int]]:
        """Pairs of lines that want the same pieces, drawn by how often chains disagree on them."""
        number = len(self.lines)
        if number <= 1:
            return []
        lines, _, _ = np.nonzero(self.held >= 0)
        wants = np.zeros((number, len(self.problem.units)), dtype=np.float32)
        np.add.at(wants, (lines, self.held[self.held >= 0]), 1.0 / self.chains)
        shared = np.triu(wants @ wants.T, 1).ravel()
        if shared.sum() < LEAST_RIVALRY:
            return []
        count = max(1, number // PAIRS_PER_LINES)
        drawn = np.searchsorted(np.cumsum(shared), self.rng.random(count) * shared.sum())
        return [(int(k) // number, int(k) % number) for k in np.minimum(drawn, number**2 - 1)]

    def _step_both(self, i: int, j: int) -> None:
        """Draw two lines anew together (Metropolis and Hastings on their joint conditional).

        The first is drawn as if the second took nothing, the second given the first; the ratio
        of the second's totals, new against old, makes it exact.
        """
        before = self.held[i].copy(), self.held[j].copy()
        chosen = self.choice[i].copy(), self.choice[j].copy()
        self._release(i)
        self._release(j)
        self._put(i, before[0])
        old_total = self._weights(j)[0].sum(axis=0)
        self._release(i)
        self._draw(i)
        new_total = self._draw(j)
        refused = np.nonzero(self.rng.random(self.chains) * old_total > new_total)[0]
        for line in (i, j):
            self._release(line, refused)
        for line, held, choice in ((i, before[0], chosen[0]), (j, before[1], chosen[1])):
            self._put(line, held, refused)
            self.choice[line, refused] = choice[refused]

    def _draw(self, i: int) -> Floats:
        """Draw a released line in every chain; hand back the totals it was drawn from."""
        weights, single, bundle, _ = self._weights(i)
        chosen, total = self._chosen(weights)
        self._take(i, self.lines[i], chosen, single, bundle)
        return total

    def _chosen(self, weights: Floats) -> tuple[Ints, Floats]:
        running = np.cumsum(weights, axis=0)
        total = running[-1]
        chosen = (running <= self.rng.random(self.chains) * total).sum(axis=0)
        return np.minimum(chosen, len(weights) - 1), total

    def _put(self, i: int, held: Ints, chains: Ints | None = None) -> None:
        where = np.arange(self.chains) if chains is None else chains
        self.held[i][:, where] = held[:, where]
        rows, columns = np.nonzero(held[:, where] >= 0)
        self.free[held[:, where][rows, columns], where[columns]] = False
        self.left[where] -= (held[:, where] >= 0).sum(axis=0)

    # one line, all chains

    def _step(self, i: int, kept: int) -> None:
        line = self.lines[i]
        self._release(i)
        weights, single, bundle, tables = self._weights(i)
        chosen, total = self._chosen(weights)
        if kept >= 0:
            self._gather(i, weights / total, single, tables, kept=kept, chosen=chosen)
        self._take(i, line, chosen, single, bundle)
        if kept >= 0:
            self.sums[i].sets[kept] = self._sorted_sets(i)

    def _release(self, i: int, chains: Ints | None = None) -> None:
        where = np.arange(self.chains) if chains is None else chains
        held = self.held[i][:, where]
        rows, columns = np.nonzero(held >= 0)
        self.free[held[rows, columns], where[columns]] = True
        self.left[where] += (held >= 0).sum(axis=0)
        self.held[i][:, where] = -1

    def _weights(self, i: int) -> tuple[Floats, Floats, Floats, Floats]:
        """Weight per signature and extra explanation, and the units' odds behind it (x chain)."""
        line = self.lines[i]
        free = self.free[line.units]
        own_single, own_bundle = self._own_odds(i)
        single = free * own_single
        bundle = single if own_single is own_bundle else free * own_bundle
        for places, odds in self.places[i].alike:
            _speak_of_the_next(bundle, free, places, odds)
        table_one, table_many = self._tables(line, single, bundle, self.most_alike[i])
        ways = self._prior_by_size() * line.sizes[:, None]
        columns = line.listed.columns
        split, pairs = self.places[i].bundles, self.places[i].triples
        weights = np.empty((len(columns) + len(EXTRA), self.chains))
        body = weights[: len(columns)]
        self._put_likely(i, body)
        for n, (start, end) in enumerate(self.places[i].sizes, start=1):
            body[start:end] *= ways[n]
        body[:split] *= table_one[columns[:split, 0]]
        for j in range(2):
            body[split:] *= table_many[columns[split:, j]]
        for j in range(2, LARGEST_BUNDLE):
            body[pairs:] *= table_many[columns[pairs:, j]]
        extra = line.extra[:, None] * self.kind[KIND_OF_EXTRA]
        extra[2:] *= line.sizes[2:, None]
        extra[:2] *= line.sizes[0]
        weights[len(columns) :] = np.maximum(extra, 1e-300)
        return weights, single, bundle, table_one

    def _own_odds(self, i: int) -> tuple[Floats, Floats]:
        """The line's odds times what is known of the pieces, for one piece and for several."""
        if i not in self.own_odds:
            line = self.lines[i]
            odds = self.odds[line.units]
            if self.coded[i] is not None:
                odds[self.coded[i]] *= self.code_scale
            if line.line.occurred_on in self.problem.stubs_kept:
                odds[self.problem.unstubbed[line.units]] *= self.lost_scale
            single = (line.single * odds)[:, None]
            alike = line.single is line.bundle
            self.own_odds[i] = single, single if alike else (line.bundle * odds)[:, None]
        return self.own_odds[i]

    def _tables(
        self, line: LineProblem, single: Floats, bundle: Floats, most_alike: int
    ) -> tuple[Floats, Floats]:
        one = np.ones((1 + len(line.prices) * LARGEST_BUNDLE, self.chains))
        if not len(line.units):
            return one, one
        many = np.ones_like(one)
        powers: list[Floats] = []
        power = bundle
        for _ in range(most_alike):
            if powers:
                power = power * bundle
            powers.append(np.add.reduceat(power, line.starts, axis=0))
        for k, values in enumerate(polynomials(powers)):
            many[1 + k :: LARGEST_BUNDLE] = values
        first = powers[0]
        if single is not bundle:
            first = np.add.reduceat(single, line.starts, axis=0)
        one[1::LARGEST_BUNDLE] = first
        return one, many

    def _put_likely(self, i: int, out: Floats) -> None:
        """Write the likelihood of the amount per listed signature."""
        fixed = self.fixed[i]
        if fixed is not None:
            out[:] = fixed[:, None]
            return
        modes, used = self.own_modes[i], self.modes_used[i]
        split = self.places[i].bundles
        np.matmul(modes[:split], self.one[used], out=out[:split])
        np.matmul(modes[split:], self.many[used], out=out[split:])

    def _prior_by_size(self) -> Floats:
        """P(size) shared evenly among the sets of that size still free, size x chain."""
        each = np.maximum(self.left - FEWER, 1.0) / (FEWER + 1)
        ways = np.ones((LARGEST_BUNDLE + 1, self.chains))
        ways[1:] = self.kind[:LARGEST_BUNDLE] / np.cumprod(each, axis=0)
        return ways

    def _gather(
        self,
        i: int,
        share: Floats,
        single: Floats,
        table_one: Floats,
        *,
        kept: int,
        chosen: Ints,
    ) -> None:
        line, sums, places = self.lines[i], self.sums[i], self.places[i]
        mean = share.mean(axis=1)
        sums.signature += mean
        if kept == 0:
            sums.reference = int(np.argmax(mean))
        sums.path[kept] = share[sums.reference]
        sums.choices[kept] = chosen
        if places.bundles:
            local = places.members[: places.bundles, 0]
            per_price = np.zeros((len(line.prices), self.chains))
            below = np.maximum(table_one[1::LARGEST_BUNDLE][local], 1e-300)
            per_price[local] = share[: places.bundles] / below
            sums.single += np.einsum("uc,uc->u", single, per_price[places.price]) / self.chains

    # drawing pieces

    def _take(
        self, i: int, line: LineProblem, chosen: Ints, single: Floats, bundle: Floats
    ) -> None:
        self.choice[i] = chosen
        sizes = line.listed.sizes
        piece_like = chosen < len(sizes)
        size = np.where(piece_like, sizes[np.minimum(chosen, len(sizes) - 1)], 0) if len(
            sizes
        ) else np.zeros(self.chains, dtype=np.int64)  # fmt: skip
        ones = np.nonzero(size == 1)[0]
        if len(ones):
            self._draw_one(i, line, chosen[ones], ones, single)
        several = np.nonzero(size > 1)[0]
        if len(several):
            self._draw_several(i, line, chosen[several], several, bundle)

    def _draw_one(
        self, i: int, line: LineProblem, chosen: Ints, chains: Ints, odds: Floats
    ) -> None:
        price = self.places[i].members[chosen, 0]
        self._hold(i, 0, line.units[self._pick(i, odds, price, chains)], chains)

    def _draw_several(
        self, i: int, line: LineProblem, chosen: Ints, chains: Ints, odds: Floats
    ) -> None:
        """Draw members one by one; where a price recurs, first ones weigh in the ones to come."""
        members = self.places[i].members[chosen]
        for j in range(LARGEST_BUNDLE):
            active = np.nonzero(members[:, j] >= 0)[0]
            if not len(active):
                break
            price, where = members[active, j], chains[active]
            more = (members[active, j + 1 :] == price[:, None]).sum(axis=1)
            unit = self._pick(i, odds, price, where, more)
            odds[unit, where] = 0.0
            self._hold(i, j, line.units[unit], where)

    def _pick(
        self, i: int, odds: Floats, price: Ints, chains: Ints, more: Ints | None = None
    ) -> Ints:
        """Draw a unit of the given price per chain, with *more* of that price to be drawn yet."""
        bounds = self.places[i].bounds
        low, end = bounds[price], bounds[price + 1]
        index = low + np.arange((end - low).max())[:, None]
        own = odds[np.minimum(index, bounds[-1] - 1), chains] * (index < end)
        if more is not None:
            for number in set(more[more > 0].tolist()):
                own[:, more == number] *= _ways_without(own[:, more == number], number)
        running = np.cumsum(own, axis=0)
        aim = self.rng.random(len(chains)) * running[-1]
        unit: Ints = np.minimum(low + (running <= aim).sum(axis=0), end - 1)
        return unit

    def _hold(self, i: int, j: int, units: Ints, chains: Ints) -> None:
        self.held[i, j, chains] = units
        self.free[units, chains] = False
        self.left[chains] -= 1

    def _sorted_sets(self, i: int) -> Ints:
        held = np.where(self.held[i] < 0, np.iinfo(np.int32).max, self.held[i])
        ordered = np.sort(held, axis=0).T
        return np.where(ordered == np.iinfo(np.int32).max, -1, ordered)

    # habits

    def _after_sweep(self, sweep: int) -> None:
        if not self.learn:
            return
        kinds, ones, many = self._count_habits()
        beliefs = self.problem.beliefs
        self.kind = self._dirichlet(beliefs.kind[:, None] + kinds)
        self.one = self._dirichlet(self.one_prior + ones)
        self.many = self._dirichlet(self.many_prior + many)
        if sweep < self.warm:
            self._learn_chances()
        else:
            self.kind_gain += kinds.mean(axis=1)
            self.one_gain += ones.mean(axis=1)
            self.many_gain += many.mean(axis=1)
            self.one_mean += self.one.mean(axis=1)
            self.many_mean += self.many.mean(axis=1)

    def _count_habits(self) -> tuple[Floats, Floats, Floats]:
        kinds = np.zeros((len(KINDS), self.chains))
        ones = np.zeros((len(MODES), self.chains))
        many = np.zeros((len(MODES), self.chains))
        every = np.arange(self.chains)
        for i, line in enumerate(self.lines):
            sizes, chosen = line.listed.sizes, self.choice[i]
            table = np.concatenate([sizes - 1, KIND_OF_EXTRA])
            kinds[table[chosen], every] += 1
            tagged = np.nonzero(chosen < len(sizes))[0]
            if not len(tagged) or self.likelihood:
                continue
            used = self.modes_used[i]
            single = sizes[chosen[tagged]] == 1
            share = np.where(single, self.one[used][:, tagged], self.many[used][:, tagged])
            share = share * line.listed.modes[chosen[tagged]][:, used].T
            running = np.cumsum(share, axis=0)
            drawn = (running <= self.rng.random(len(tagged)) * running[-1]).sum(axis=0)
            mode = used[np.minimum(drawn, len(used) - 1)]
            np.add.at(ones, (mode[single], tagged[single]), 1)
            np.add.at(many, (mode[~single], tagged[~single]), 1)
        return kinds, ones, many

    def _dirichlet(self, counts: Floats) -> Floats:
        drawn = np.maximum(self.rng.standard_gamma(counts), 1e-12) * (counts > 0)
        shares: Floats = drawn / drawn.sum(axis=0)
        return shares

    def _learn_chances(self) -> None:
        """Expected slips of the count and share gone without a line, given the chains now."""
        units = self.problem.units
        sold = (~self.free).mean(axis=1)
        gone = (1 - sold) * gone_given_no_line(units, self.chance)
        home = 1 - sold - gone
        plain = units.elsewhere < LIKELY
        yes_no = {
            "counted_though_sold": ((sold + gone), units.counted == 1, units.counted >= 0),
            "missed_though_home": (home, units.counted == 0, units.counted >= 0),
        }
        for name, (share, hit, asked) in yes_no.items():
            self._learn_chance(name, float(share[hit].sum()), float(share[asked].sum()))
        if (units.counted >= 0).any() or units.stub.any():
            hits, rest = float(gone[plain].sum()), float((1 - sold)[plain].sum())
            self._learn_chance("gone_without_line", hits, rest)
        self._learn_wrong_codes()
        self._learn_lost_stubs()
        self.odds = sold_odds(units, self.chance)
        self.own_odds.clear()

    def _learn_chance(self, name: str, hits: float, asked: float) -> None:
        yes, no = self.problem.beliefs.chances[name]
        self.chance[name] = (yes + hits) / (yes + no + asked)
        self.chance_gain[name] = hits, max(asked - hits, 0.0)

    def gains(self) -> dict[str, float]:
        """Expected counts this run has taught, by name as in Habits."""
        return named_gains((self.kind_gain, self.one_gain, self.many_gain), self.chance_gain)

    def _learn_lost_stubs(self) -> None:
        """Share of pieces sold on days with stubs whose stub is not there, given the chains now."""
        kept = self.problem.stubs_kept
        held = self.held[[line.line.occurred_on in kept for line in self.lines]]
        if not held.size:
            return
        sold = held[held >= 0]
        lost = float(self.problem.unstubbed[sold].sum())
        self._learn_chance("stub_lost", lost / self.chains, len(sold) / self.chains)
        self.lost_scale = self.chance["stub_lost"] / self.problem.beliefs.chance("stub_lost")

    def _learn_wrong_codes(self) -> None:
        """Share of noted codes that were not of a piece sold, given the chains now."""
        hits, asked = 0.0, 0
        for i, coded in enumerate(self.coded):
            if coded is not None:
                units = self.lines[i].units[coded]
                right = float(np.isin(self.held[i], units).any(axis=0).mean())
                hits, asked = hits + 1 - right, asked + 1
        before = code_ratio(self.problem.beliefs.chance("code_is_wrong"), 1)
        self._learn_chance("code_is_wrong", hits, asked)
        self.code_scale = code_ratio(self.chance["code_is_wrong"], 1) / before


def _most_alike(line: LineProblem) -> int:
    """How many pieces of one price the listed sets hold at most."""
    columns = line.listed.columns
    return int(((columns[columns > 0] - 1) % LARGEST_BUNDLE).max(initial=0)) + 1


def _alike(line: LineProblem, item: Ints) -> Iterator[tuple[Ints, float]]:
    if line.text is None:
        return
    odds = line.text.codes * line.text.in_bundle
    for i in np.unique(item[odds[item] > 1.0]):
        places = np.nonzero(item == i)[0]
        if len(places) > 1:
            yield places, float(odds[i])


def _speak_of_the_next(bundle: Floats, free: Bools, places: Ints, odds: float) -> None:
    """Where another line holds an item's first unit, let its next free one carry the words."""
    chains = np.nonzero(~free[places[0]] & free[places[1:]].any(axis=0))[0]
    nearest = places[1:][np.argmax(free[places[1:]][:, chains], axis=0)]
    bundle[nearest, chains] *= odds


def _ways_without(own: Floats, more: int) -> Floats:
    """For each entry, the polynomial e_more of the others in its column."""
    powers = [(own**k).sum(axis=0) - own**k for k in range(1, more + 1)]
    return polynomials(powers)[more - 1]


def scale_reduction(path: Floats) -> float:
    """Potential scale reduction of S x C values (Gelman and Rubin 1992); 1 when nothing varies."""
    sweeps, _ = path.shape
    if sweeps <= 1:
        return 1.0
    within = float(path.var(axis=0, ddof=1).mean())
    between = float(path.mean(axis=0).var(ddof=1))
    if max(within, between) < STILL:
        return 1.0
    return float(np.sqrt((sweeps - 1) / sweeps + between / max(within, 1e-9)))
