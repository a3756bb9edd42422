"""Lines that may change places: only those that nothing tells apart."""

from __future__ import annotations

import datetime as dt

from tests.unit.matching.worlds_small import DAY, a_line, a_piece, evidence

from stallkeep.domain.matching import Habits
from stallkeep.domain.matching.habits import Beliefs
from stallkeep.domain.matching.like_lines import like_lines
from stallkeep.domain.matching.problem import Problem

NEXT = DAY + dt.timedelta(days=1)
RAIL = [a_piece("a", 4000), a_piece("b", 4000, title="Wool coat"), a_piece("c", 4500)]


def groups(*lines: object, **more: object) -> set[tuple[str, ...]]:
    world = evidence(RAIL, list(lines), **more)  # type: ignore[arg-type]
    problem = Problem(world, list(world.lines), Beliefs(Habits()), taken={}, boosts={})
    names = [line.line.transaction_id for line in problem.lines]
    return {tuple(sorted(names[i] for i in group)) for group in like_lines(problem.lines)}


def test_the_same_amount_on_the_same_day_is_alike() -> None:
    assert groups(a_line("t", 4000), a_line("u", 4000), a_line("v", 4500)) == {("t", "u")}


def test_another_day_or_a_word_tells_lines_apart() -> None:
    assert groups(a_line("t", 4000), a_line("u", 4000, occurred_on=NEXT)) == set()
    assert groups(a_line("t", 4000), a_line("u", 4000, note="wool coat")) == set()


def test_a_line_that_may_repeat_another_is_like_none() -> None:
    at = dt.datetime(2031, 5, 10, 11, 0, tzinfo=dt.UTC)
    lines = [
        a_line(name, 4000, method="card", occurred_at=at + dt.timedelta(minutes=2 * i))
        for i, name in enumerate(("t", "u"))
    ]
    assert groups(*lines) == set()
