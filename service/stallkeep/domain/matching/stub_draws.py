"""What one way to lay the stubs says of the seller, and habits drawn from it."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from stallkeep.domain.matching.habits import KINDS, Beliefs, named_gains
from stallkeep.domain.matching.modes import MODES, Floats
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.stub_line import StubLine
from stallkeep.domain.matching.stub_order import OUTSIDE, Chain
from stallkeep.domain.matching.ways import drawn_shares

UNTAGGED, DOUBLE = KINDS.index("untagged"), KINDS.index("double_charge")


class Uses(msgspec.Struct):
    """Counts of one draw.

    Attributes:
        kind: By KINDS.
        one, many: By MODES.
        taken: Stubs that lines took.
        stubs: Stubs there were.
        swapped: Times a stub was passed over and taken later.
        lost: Pieces that lines took without a stub.
        units: Units on the rail.
    """

    kind: Floats
    one: Floats
    many: Floats
    taken: float = 0.0
    stubs: float = 0.0
    swapped: float = 0.0
    lost: float = 0.0
    units: float = 0.0

    @classmethod
    def none(cls) -> Uses:
        """Nothing counted yet."""
        return cls(np.zeros(len(KINDS)), np.zeros(len(MODES)), np.zeros(len(MODES)))

    @classmethod
    def sum(cls, parts: Sequence[Uses]) -> Uses:
        """All days of one draw."""
        whole = cls.none()
        for part in parts:
            whole.kind += part.kind
            whole.one += part.one
            whole.many += part.many
            whole.taken += part.taken
            whole.stubs += part.stubs
            whole.swapped += part.swapped
            whole.lost += part.lost
            whole.units = part.units
        return whole

    @classmethod
    def mean(cls, draws: Sequence[Uses]) -> dict[str, float]:
        """Expected counts by name, as in Habits."""
        whole = cls.sum(draws)
        number = len(draws)
        counts = (whole.kind / number, whole.one / number, whole.many / number)
        chances = [draw.chances() for draw in draws]
        return named_gains(
            counts,
            {
                name: (
                    sum(own[name][0] for own in chances) / number,
                    sum(own[name][1] for own in chances) / number,
                )
                for name in chances[0]
            },
        )

    def chances(self) -> dict[str, tuple[float, float]]:
        """How often each chance came about, and how often it did not."""
        gone = max(self.stubs - self.taken, 0.0)
        rest = max(self.units - self.taken - self.lost, gone)
        return {
            "stub_lost": (self.lost, self.taken),
            "stub_swapped": (self.swapped, max(self.taken - self.swapped, 0.0)),
            "gone_without_line": (gone, rest - gone),
        }


def uses_of(chain: Chain, odds: Floats, rng: np.random.Generator) -> Uses:
    """Draw a way to lay a day's stubs by the weights the chain holds, and count what it uses."""
    uses = Uses.none()
    uses.units, uses.stubs = len(chain.problem.units), chain.moves.number
    for i, (line, move) in enumerate(zip(chain.lines, chain.draw(rng), strict=True)):
        if move == OUTSIDE:
            _count_outside(uses, chain, i, rng)
        else:
            _count_move(uses, chain, i, move, line=line, odds=odds, rng=rng)
    return uses


def _count_move(
    uses: Uses,
    chain: Chain,
    i: int,
    move: int,
    *,
    line: StubLine,
    odds: Floats,
    rng: np.random.Generator,
) -> None:
    moves, shares = chain.moves, chain.problem.shares
    k, place = divmod(move, moves.number + 1)
    size, total = int(moves.size[k]), int(chain.totals[k, place])
    uses.taken += size
    uses.swapped += float(moves.source[k, place] < moves.states)
    mixed = rng.random() < chain.mixed_share(i, move)
    if mixed:
        beside = line.beside(total, shares, odds)
        total += int(chain.problem.prices[_pick(beside, rng)])
        size += 1
        uses.lost += 1
    uses.kind[size - 1] += 1
    family, mix = (uses.one, shares[1]) if size == 1 else (uses.many, shares[2])
    drawn = _pick(line.mode_shares(total, mix, mixed=mixed), rng)
    family[line.amount.used[drawn]] += 1


def _count_outside(uses: Uses, chain: Chain, i: int, rng: np.random.Generator) -> None:
    outside, problem = chain.outside[i], chain.lines[i].line
    drawn = _pick(np.append([outside.untagged, outside.double_charge], outside.loose), rng)
    if drawn < len((UNTAGGED, DOUBLE)):
        uses.kind[(UNTAGGED, DOUBLE)[drawn]] += 1
        return
    k = drawn - 2
    size = int(problem.listed.sizes[k])
    uses.lost += size
    uses.kind[size - 1] += 1
    shares = chain.problem.shares
    family, mix = (uses.one, shares[1]) if size == 1 else (uses.many, shares[2])
    family[_pick(problem.listed.modes[k] * mix, rng)] += 1


def habits_drawn(
    beliefs: Beliefs, uses: Uses, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """Draw shares of kinds, ways for one piece and for several."""
    return (
        drawn_shares(beliefs.kind + uses.kind, rng),
        beliefs.one_ways.draw(uses.one, rng),
        beliefs.many_ways.draw(uses.many, rng),
    )


def chances_drawn(problem: Problem, uses: Uses, rng: np.random.Generator) -> dict[str, float]:
    """Draw the chances that stubs tell of."""
    drawn = {}
    for name, (happened, did_not) in uses.chances().items():
        yes, no = problem.beliefs.chances[name]
        drawn[name] = float(rng.beta(yes + happened, no + did_not))
    return drawn


def _pick(weights: Floats, rng: np.random.Generator) -> int:
    running = np.cumsum(weights)
    found = np.searchsorted(running, rng.random() * running[-1], side="right")
    return int(min(found, len(weights) - 1))
