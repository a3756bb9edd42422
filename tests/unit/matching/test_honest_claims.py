"""What must not be claimed: cases in which an amount or a code alone would mislead."""

from __future__ import annotations

import datetime as dt
import random

import msgspec
import pytest
from tests.unit.matching.worlds_small import DAY, a_line, a_piece, evidence

from stallkeep.domain.matching import (
    Evidence,
    Habits,
    LineAnswer,
    RailPiece,
    Reconciliation,
    Stub,
    reconcile,
)
from stallkeep.domain.matching.any_amount import AnyAmount
from stallkeep.domain.matching.habits import Beliefs
from stallkeep.domain.matching.money_parts import shared
from stallkeep.domain.matching.notes import known_codes_in
from stallkeep.domain.matching.piece_evidence import Units, gone_given_no_line
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.stub_days import solve_days
from stallkeep.domain.tag_codes import new_code

RNG = random.Random(20310510)  # noqa: S311
CODES = [new_code(RNG) for _ in range(60)]
MORNING = dt.datetime(2031, 5, 10, 9, tzinfo=dt.UTC)
PRICES = [1000, 1200, 1500, 1800, 2000, 2200, 2500, 3000, 3500, 4000, 4500, 6000]


def a_rail(number: int = 48) -> list[RailPiece]:
    return [a_piece(f"p{i:02d}", PRICES[i % 12], tag_code=CODES[i]) for i in range(number)]


def the_answer(world: Evidence, transaction_id: str = "t") -> LineAnswer:
    return next(a for a in reconcile(world).answers if a.transaction_id == transaction_id)


def test_a_code_beats_the_only_equal_price_though_its_piece_has_none() -> None:
    pieces = [a_piece("p0", 1195), a_piece("p1", None, tag_code=CODES[0]), *a_rail()[1:30]]
    answer = the_answer(evidence(pieces, [a_line("t", 1195, note=CODES[0])]))
    assert answer.candidates[0].item_ids == ("p1",)
    assert answer.item_ids != ("p0",)


def test_pieces_without_a_price_keep_others_from_being_sure() -> None:
    rail = [a_piece(f"p{i}", 1995, counted_home=int(i > 0)) for i in range(20)]
    sure = the_answer(evidence(rail, [a_line("t", 1995)]))
    bare = [a_piece(f"u{i}", None, counted_home=0) for i in range(4)]
    unsure = the_answer(evidence([*rail, *bare], [a_line("t", 1995)]))
    assert sure.candidates[0].item_ids == unsure.candidates[0].item_ids == ("p0",)
    assert unsure.probability < sure.probability - 0.1
    assert unsure.group is None


def test_what_tags_leave_of_an_amount_belongs_to_the_piece_without_one() -> None:
    assert shared(1000, [0, 700]) == (300, 700)
    assert shared(500, [0, 700]) == (0, 500)
    assert shared(999, [0, 0]) == (500, 499)
    assert shared(-500, [0]) == (-500,)


def test_a_code_names_its_item_once_though_there_are_many_of_it() -> None:
    cups = [a_piece("cup", 975, tag_code=CODES[50], quantity=5)]
    bowls = [a_piece("bowl", 1275, tag_code=CODES[51], quantity=5)]
    world = evidence(
        [*cups, *bowls, *a_rail(24)], [a_line("t", 2250, note=f"{CODES[50]} {CODES[51]}")]
    )
    answer = the_answer(world)
    assert answer.candidates[0].item_ids == ("bowl", "cup")
    assert answer.probability > 0.95


def test_two_lines_may_name_the_same_item_where_there_are_two_of_it() -> None:
    cups = [a_piece("cup", 975, tag_code=CODES[50], quantity=2)]
    lines = [
        a_line("s", 1975, note=f"{CODES[50]} {CODES[0]}"),
        a_line("t", 2175, note=f"{CODES[50]} {CODES[1]}"),
    ]
    alike = [a_piece(f"mug{i}", 975) for i in range(9)]
    world = evidence([*cups, *alike, *a_rail()], lines)
    first = {a.transaction_id: a.candidates[0] for a in reconcile(world).answers}
    assert [first[t].item_ids for t in "st"] == [("cup", "p00"), ("cup", "p01")]
    assert min(first[t].probability for t in "st") > 0.95


def a_day(order: list[int], positions: list[int] | None, priced: bool = False) -> Evidence:
    """Twenty pieces sold one after another at their tag prices, and their stubs."""
    sold = [7, 3, 22, 14, 30, 1, 41, 19, 8, 35, 12, 27, 5, 46, 33, 10, 38, 16, 25, 44]
    pieces = a_rail()
    lines = [
        a_line(f"t{n:02d}", PRICES[i % 12], occurred_at=MORNING + dt.timedelta(minutes=15 * n))
        for n, i in enumerate(sold)
    ]
    stubs = tuple(
        Stub(
            code=CODES[sold[n]],
            day=DAY,
            position=None if positions is None else positions[k],
            price_minor=PRICES[sold[n] % 12] if priced else None,
        )
        for k, n in enumerate(order)
    )
    return evidence(pieces, lines, stubs=stubs, days=(DAY,))


def matched(result: Reconciliation) -> dict[str, tuple[str, ...]]:
    return {a.transaction_id: a.item_ids for a in result.answers if a.state == "matched"}


def test_a_pile_of_stubs_read_from_the_top_is_noticed() -> None:
    kept = matched(reconcile(a_day(list(range(20)), list(range(20)))))
    turned = matched(reconcile(a_day(list(range(20)), list(range(19, -1, -1)))))
    assert len(kept) >= 15
    assert turned == kept


def settled_by_order(world: Evidence) -> int:
    problem = Problem(world, list(world.lines), Beliefs(Habits()), taken={}, boosts={})
    return len(solve_days(problem, 1).posteriors)


def test_an_order_that_was_lost_is_not_believed() -> None:
    order = list(range(20))
    assert settled_by_order(a_day(order, order)) == 20
    shuffled = random.Random(4).sample(order, 20)  # noqa: S311
    assert settled_by_order(a_day(shuffled, order)) == 0


def test_a_piece_without_a_stub_is_hardly_gone_where_stubs_were_kept() -> None:
    """Else every piece left could be gone unpaid, and every payment be for something else."""
    world = a_day(list(range(20)), None)
    units = Units(world)
    beliefs = Beliefs(Habits())
    chances = {name: beliefs.chance(name) for name in beliefs.chances}
    gone = gone_given_no_line(units, chances)[units.stub == 0]
    assert gone.max() < 0.1 * chances["gone_without_line"]
    bare = Units(msgspec.structs.replace(world, stubs=()))
    assert gone_given_no_line(bare, chances) == pytest.approx(chances["gone_without_line"])


@pytest.mark.parametrize("priced", [False, True])
def test_stubs_without_order_leave_sales_to_their_pieces(priced: bool) -> None:
    result = reconcile(a_day(list(range(20)), None, priced))
    assert sum(answer.sizes[0] for answer in result.answers) < 2.0


def test_a_price_written_on_a_stub_counts_without_an_order() -> None:
    """1500 was paid for a tag of 1800 and 1200 for a tag of 1500: only the stubs tell."""
    pieces = a_rail()
    lines = [a_line("s", 1500), a_line("t", 1200), a_line("u", 2500)]
    written = {CODES[3]: 1500, CODES[2]: 1200, CODES[6]: 2500}
    stubs = tuple(Stub(code=code, day=DAY, price_minor=paid) for code, paid in written.items())
    result = reconcile(evidence(pieces, lines, stubs=stubs, days=(DAY,)))
    first = {a.transaction_id: a.candidates[0] for a in result.answers}
    assert first["s"].item_ids == ("p03",)
    assert first["t"].item_ids == ("p02",)
    assert first["s"].probability > 0.9


def test_codes_are_read_though_words_run_into_them() -> None:
    codes = {code: code for code in CODES[:2]}
    assert known_codes_in(f"mug{CODES[0]}+{CODES[1].lower()}x", codes) == CODES[:2]


def test_a_code_and_two_more_speaks_of_three() -> None:
    plain, more = (
        the_answer(evidence(a_rail(), [a_line("t", 4500, note=note)]))
        for note in (CODES[0], f"{CODES[0]} +2")
    )
    assert more.sizes[3] > 0.5 > plain.sizes[3]


def test_amounts_end_as_tags_do_and_round_ones_are_likelier() -> None:
    own = AnyAmount([1995, 2495, 895], 2000, 100)
    other = AnyAmount([2000, 2500, 900], 2000, 100)
    assert own.likelihood(1295) > 5 * other.likelihood(1295)
    assert other.likelihood(1500) > other.likelihood(1400) > other.likelihood(1450)
    for likelihood in (own.likelihood, own.untagged):
        whole = sum(likelihood(amount) for amount in range(1, 100_000))
        assert whole == pytest.approx(1.0, abs=0.1)
        assert likelihood(0) == 0.0


def test_what_has_no_tag_is_mostly_cheaper_than_what_has_one() -> None:
    prices = AnyAmount([2000, 2500, 900], 2000, 100)
    below, usual, above = (prices.untagged(x) / prices.likelihood(x) for x in (500, 2000, 8000))
    assert below > 1.5
    assert usual < 1.0
    assert above < usual


def test_stubs_of_a_rail_without_pieces_stop_no_run() -> None:
    stubs = (Stub(code=CODES[0], day=DAY),)
    answer = the_answer(evidence([], [a_line("t", 500)], stubs=stubs))
    assert answer.state == "unmatched"


def test_a_rail_on_which_no_piece_has_a_price_is_read_by_its_codes() -> None:
    rail = [a_piece(f"p{i}", None, tag_code=CODES[i]) for i in range(10)]
    answer = the_answer(evidence(rail, [a_line("t", 1500, note=CODES[3])]))
    assert answer.candidates[0].item_ids == ("p3",)
    assert answer.candidates[0].prices_minor == (1500,)


def test_pieces_without_a_price_are_no_group_of_one_price() -> None:
    titles = ["wool coat", "wool coat", *(f"jug{i} plate{i}" for i in range(18))]
    rail = [a_piece(f"p{i}", None, title=title) for i, title in enumerate(titles)]
    answer = the_answer(evidence(rail, [a_line("t", 1500, note="wool coat")]))
    assert answer.sizes[1] > 0.99
    assert answer.group is None
