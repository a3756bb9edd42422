"""Posterior probabilities by many Markov chains side by side, one column each.

A step takes one line out of a chain, weighs all its price signatures given the pieces the other
lines left (summing over pieces in closed form), draws one, then draws the pieces. After each sweep
every chain draws its own habits (conjugate Dirichlet), so uncertainty about the seller's ways is
part of the answer. Probabilities are averages of the conditional weights, not of counts
(Rao-Blackwell), which makes a few hundred draws go a long way.

Source: Liu, Wong, Kong (1994) for the averaging and the collapsing.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from stallkeep.domain.matching.chain_chances import ChainChances
from stallkeep.domain.matching.chain_habits import ChainHabits
from stallkeep.domain.matching.draw_units import draw_units
from stallkeep.domain.matching.first_look import FirstLook
from stallkeep.domain.matching.habits import named_gains
from stallkeep.domain.matching.like_lines import like_lines
from stallkeep.domain.matching.line_problem import KIND_OF_EXTRA, LineProblem
from stallkeep.domain.matching.line_sums import LineSums
from stallkeep.domain.matching.modes import Bools, Floats, Ints
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.sampled_line import SampledLine, Weighed, speak_of_the_next
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE, polynomials

PAIRS_PER_LINES = 12
LEAST_RIVALRY = 0.01
HALF = 0.5

AmountLikelihood = Callable[[LineProblem], Floats]


class Sampler:
    """A run of the chains over one problem.

    Attributes:
        lines: The problem's.
        sums: Per line, what the chains have told.
        habits: The seller's, as the chains draw them.
        chances: As learned.
    """

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
            likelihood: K likelihoods of a line's signatures, in place of the modes.
            start: Kind of seller and first habits of each chain; none means those expected.
        """
        self.chains, self.warm, self.sweeps = chains, warm, sweeps
        self.problem, self.lines = problem, problem.lines
        self._rng = np.random.default_rng(seed)
        self._learn = learn
        self._modes = likelihood is None
        self._own = [
            SampledLine(line, problem, likelihood(line) if likelihood else None)
            for line in self.lines
        ]
        self.sums = [LineSums(own, sweeps, chains) for own in self._own]
        self.habits = ChainHabits(problem.beliefs, start, chains, self._rng)
        self.chances = ChainChances(problem)
        self._alike = like_lines(self.lines)
        self._every = np.arange(chains)
        self._nobody = len(problem.units)  # a unit that is none, in the last row of *free*
        self._free = np.zeros((self._nobody + 1, chains))
        self._free[:-1] = problem.free[:, None]
        self._left = np.full(chains, int(problem.free.sum()))
        number = len(self.lines)
        self._held = np.full((number, LARGEST_BUNDLE, chains), self._nobody)
        self._number = np.zeros((number, chains), dtype=np.int64)
        self._choice = np.zeros((number, chains), dtype=np.int64)
        self._odds: dict[int, tuple[Floats, Floats]] = {}
        self._ways = _ways_by_size(int(problem.free.sum()))

    def run(self) -> None:
        """All sweeps; results are in the attributes."""
        if not self.lines:
            return
        for sweep in range(self.warm + self.sweeps):
            kept = sweep - self.warm
            for i in self._order(sweep):
                self._step(int(i), kept)
            for i, j in self._rivals():
                self._step_both(i, j)
            self._exchange()
            if self._learn:
                self._draw_habits(kept)
        if self.sweeps:
            self.habits.close(self.sweeps)
            for sums in self.sums:
                sums.close()

    def gains(self) -> dict[str, float]:
        """Expected counts this run has taught, by name as in Habits."""
        habits = self.habits
        gains = (habits.kind_gain, habits.one_gain, habits.many_gain)
        return named_gains(gains, self.chances.gains)

    def _order(self, sweep: int) -> Ints:
        if sweep == 0:
            width = [len(line.listed.sizes) for line in self.lines]
            return np.argsort(np.array(width, dtype=np.int64), kind="stable")
        return self._rng.permutation(len(self.lines))

    def _draw_habits(self, kept: int) -> None:
        uses = self.habits.uses(self._own, self._choice, modes=self._modes)
        self.habits.draw(uses, kept=kept >= 0)
        if kept < 0:
            self.chances.learn(self._own, self._held, 1 - self._free[:-1].mean(axis=1))
            self._odds.clear()

    # one line, all chains

    def _step(self, i: int, kept: int) -> None:
        self._release(i)
        weighed = self._weighed(i)
        chosen, total = self._chosen(weighed.weights)
        if kept >= 0:
            self.sums[i].add(kept, weighed, total)
        self._take(i, chosen, weighed)
        if kept >= 0:
            self.sums[i].drew(kept, chosen, self._held[i])

    def _release(self, i: int) -> None:
        held = self._held[i]
        self._free[held, self._every] = 1.0
        self._left += self._number[i]
        held.fill(self._nobody)

    def _weighed(self, i: int) -> Weighed:
        """Weigh everything a released line may have been for."""
        line = self._own[i]
        single, bundle = self._odds_now(i)
        alone = _by_price(single, line)
        ways = self.habits.kind[:LARGEST_BUNDLE] * self._ways.take(self._left, axis=1)
        ways *= line.problem.sizes[1:, None]
        weights = np.empty((len(line.number), self.chains))
        split, several = line.singles, len(line.number) - len(line.extra)
        body = weights[:several]
        self._put_likely(line, body)
        for (start, end), way in zip(line.sizes, ways, strict=True):
            body[start:end] *= way
        body[:split] *= alone.take(line.alone, axis=0)
        if split < several:
            sums = alone if single is bundle else _by_price(bundle, line)
            table = _polynomials(line, bundle, sums)
            for start, rows in line.bundles:
                body[split + start :] *= table.take(rows, axis=0)
        np.maximum(line.extra * self.habits.kind[KIND_OF_EXTRA], 1e-300, out=weights[several:])
        return Weighed(weights, single, bundle, alone)

    def _odds_now(self, i: int) -> tuple[Floats, Floats]:
        """Odds of the units for a piece alone and for one of several; 0 where they are taken."""
        line = self._own[i]
        if i not in self._odds:
            self._odds[i] = self._own_odds(line)
        own_single, own_bundle = self._odds[i]
        free = self._free.take(line.units, axis=0)
        if own_single is own_bundle and not line.alike:
            free *= own_single
            return free, free
        bundle = free * own_bundle
        for places, odds in line.alike:
            speak_of_the_next(bundle, free > 0, places, odds)
        return free * own_single, bundle

    def _own_odds(self, line: SampledLine) -> tuple[Floats, Floats]:
        """The line's odds times what is known of the pieces, for one piece and for several."""
        odds = self.chances.odds[line.units]
        if line.coded is not None:
            odds[line.coded] *= self.chances.code_scale
        if line.lost is not None:
            odds[line.lost] *= self.chances.lost_scale
        single = (line.problem.single * odds)[:, None]
        if line.problem.single is line.problem.bundle:
            return single, single
        return single, (line.problem.bundle * odds)[:, None]

    def _put_likely(self, line: SampledLine, out: Floats) -> None:
        """Write the likelihood of the amount per listed signature."""
        if line.fixed is not None:
            out[:] = line.fixed
            return
        split = line.singles
        np.matmul(line.modes[:split], self.habits.one[line.used], out=out[:split])
        np.matmul(line.modes[split:], self.habits.many[line.used], out=out[split:])

    def _chosen(self, weights: Floats) -> tuple[Ints, Floats]:
        running = weights.cumsum(axis=0)
        total = running[-1]
        chosen = (running <= self._rng.random(self.chains) * total).sum(axis=0)
        return np.minimum(chosen, len(weights) - 1), total

    def _take(self, i: int, chosen: Ints, weighed: Weighed) -> None:
        """Draw the pieces of the chosen signatures, member by member."""
        line, single, bundle = self._own[i], weighed.single, weighed.bundle
        number = line.number[chosen]
        self._choice[i], self._number[i] = chosen, number
        self._left -= number
        members, more = line.members[chosen], line.more[chosen]
        if single is not bundle:
            chains = np.nonzero(number == 1)[0]
            if len(chains):
                units = draw_units(single, line.bounds, members[chains, 0], chains, rng=self._rng)
                self._hold(i, 0, chains, units)
            members[chains, 0] = -1
        for place in range(int(number.max())):
            chains = np.nonzero(members[:, place] >= 0)[0]
            if len(chains):
                price, alike = members[chains, place], more[chains, place]
                units = draw_units(bundle, line.bounds, price, chains, rng=self._rng, more=alike)
                bundle[units, chains] = 0.0
                self._hold(i, place, chains, units)

    def _hold(self, i: int, place: int, chains: Ints, units: Ints) -> None:
        held = self._own[i].units[units]
        self._held[i, place, chains] = held
        self._free[held, chains] = 0.0

    # two lines at once, all chains

    def _rivals(self) -> list[tuple[int, int]]:
        """Pairs of lines that want the same pieces, drawn by how often chains disagree on them."""
        number = len(self.lines)
        if number <= 1:
            return []
        wants = np.zeros((number, self._nobody + 1), dtype=np.float32)
        np.add.at(wants, (np.arange(number)[:, None, None], self._held), 1.0 / self.chains)
        wants = wants[:, :-1]
        shared = np.triu(wants @ wants.T, 1).ravel()
        if shared.sum() < LEAST_RIVALRY:
            return []
        count = max(1, number // PAIRS_PER_LINES)
        drawn = np.searchsorted(np.cumsum(shared), self._rng.random(count) * shared.sum())
        return [(int(k) // number, int(k) % number) for k in np.minimum(drawn, number**2 - 1)]

    def _exchange(self) -> None:
        """Let lines that nothing tells apart change places, in half of the chains."""
        for group in self._alike:
            order = self._rng.permutation(group)
            for i, j in zip(order[::2], order[1::2], strict=False):
                chains = np.nonzero(self._rng.random(self.chains) < HALF)[0]
                for held in (self._held, self._number, self._choice):
                    before = held[[i, j]]
                    held[i][..., chains] = before[1][..., chains]
                    held[j][..., chains] = before[0][..., chains]

    def _step_both(self, i: int, j: int) -> None:
        """Draw two lines anew together (Metropolis and Hastings on their joint conditional).

        The first is drawn as if the second took nothing, the second given the first; the ratio
        of the second's totals, new against old, makes it exact.
        """
        both = [i, j]
        before = self._held[both], self._number[both], self._choice[both]
        self._release(j)
        old_total = self._weighed(j).weights.sum(axis=0)
        self._release(i)
        self._number[both] = 0
        self._draw(i)
        new_total = self._draw(j)
        self._refuse(both, before, self._rng.random(self.chains) * old_total > new_total)

    def _draw(self, i: int) -> Floats:
        """Draw a released line in every chain; hand back the totals it was drawn from."""
        weighed = self._weighed(i)
        chosen, total = self._chosen(weighed.weights)
        self._take(i, chosen, weighed)
        return total

    def _refuse(self, both: list[int], before: tuple[Ints, Ints, Ints], refused: Bools) -> None:
        """Put back what the two lines held before, in the chains where the draw is refused."""
        chains = np.nonzero(refused)[0]
        held, number, choice = before
        for line in both:
            self._free[self._held[line][:, chains], chains] = 1.0
            self._left[chains] += self._number[line, chains]
        for k, line in enumerate(both):
            self._held[line][:, chains] = held[k][:, chains]
            self._free[held[k][:, chains], chains] = 0.0
            self._left[chains] -= number[k, chains]
            self._number[line, chains] = number[k, chains]
            self._choice[line, chains] = choice[k, chains]


def _by_price(odds: Floats, line: SampledLine) -> Floats:
    """Sum units x chains over the units of each price."""
    if not len(line.units):
        return odds
    sums: Floats = np.add.reduceat(odds, line.bounds[:-1], axis=0)
    return sums


def _polynomials(line: SampledLine, odds: Floats, sums: Floats) -> Floats:
    """Table of elementary symmetric polynomials, see polynomial_row(); *sums* is the first."""
    prices = len(sums)
    table = np.empty((1 + line.most_alike * prices, odds.shape[1]))
    table[0] = 1.0
    powers, power = [sums], odds
    for _ in range(1, line.most_alike):
        power = power * odds
        powers.append(_by_price(power, line))
    for k, values in enumerate(polynomials(powers)):
        table[1 + k * prices : 1 + (k + 1) * prices] = values
    return table


def _ways_by_size(pieces: int) -> Floats:
    """One over the number of sets of 1, 2, 3, 4 pieces of so many: 4 x pieces + 1."""
    left = np.arange(pieces + 1)
    fewer = np.arange(LARGEST_BUNDLE)[:, None]
    ways: Floats = 1.0 / np.cumprod(np.maximum(left - fewer, 1.0) / (fewer + 1), axis=0)
    return ways
