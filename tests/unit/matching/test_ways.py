"""Kinds of sellers: told apart by what they did, and where the chains of an event start."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import gammaln
from scipy.stats import dirichlet_multinomial
from tests.unit.matching.worlds_small import a_line, a_piece, evidence

from stallkeep.domain.matching import Habits
from stallkeep.domain.matching.first_look import FirstLook, first_look
from stallkeep.domain.matching.habits import Beliefs
from stallkeep.domain.matching.modes import MODES, Floats
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.ways import KIND_WEIGHTS, log_marginal

KINDS_OF_SELLERS = ["anything", *KIND_WEIGHTS]


def uses(**counts: float) -> Floats:
    return np.array([counts.get(name, 0.0) for name in MODES])


def test_the_evidence_of_a_kind_is_that_of_scipys_dirichlet_multinomial() -> None:
    counts = np.array([[1.5, 0.5, 3.0], [6.0, 0.1, 0.1]])
    gained = np.array([4, 0, 3])
    orders = gammaln(gained.sum() + 1) - gammaln(gained + 1).sum()
    expected = [dirichlet_multinomial.logpmf(gained, row, gained.sum()) - orders for row in counts]
    assert log_marginal(counts, gained.astype(float)) == pytest.approx(expected)


def test_a_way_that_a_kind_never_has_weighs_nothing_for_the_others() -> None:
    counts = np.array([[2.0, 0.0, 1.0]])
    assert log_marginal(counts, np.array([1.0, 0.0, 1.0])) == pytest.approx(np.log(2 / 3 * 1 / 4))


@pytest.mark.parametrize(
    ("counts", "kind"),
    [
        ({"exact": 15, "down_5_next": 8}, "down_5"),
        ({"exact": 15, "down_10_next": 6, "down_10_second": 2}, "down_10"),
        ({"exact": 15, "percent_10": 5, "percent_20": 3}, "percent"),
        ({"exact": 40}, "stands"),
        (
            {"exact": 9, "down_1_next": 4, "percent_30": 4, "off_3": 4, "down_20_deep": 4},
            "anything",
        ),
    ],
)
def test_some_prices_tell_the_kind_of_seller(counts: dict[str, float], kind: str) -> None:
    shares = Beliefs(Habits()).one_ways.after(uses(**counts))
    assert KINDS_OF_SELLERS[int(np.argmax(shares))] == kind
    assert shares.sum() == pytest.approx(1.0)


def test_what_the_other_kinds_would_have_done_is_free_again() -> None:
    beliefs = Beliefs(Habits())
    gained = uses(exact=15, down_5_next=8)
    plain = beliefs.one + gained
    mean = beliefs.one_ways.mean_after(gained)
    place = MODES.index("down_10_next")
    assert mean[place] < 0.5 * plain[place] / plain.sum()
    assert mean.sum() == pytest.approx(1.0)


def test_earlier_events_choose_the_kind() -> None:
    learned = {"one/exact": 15.0, "one/down_10_next": 8.0}
    shares = np.exp(Beliefs(Habits(learned=learned)).one_ways.log_weights)
    assert KINDS_OF_SELLERS[int(np.argmax(shares))] == "down_10"


def test_every_chain_draws_a_kind_by_what_it_used_itself() -> None:
    ways = Beliefs(Habits()).one_ways
    gained = np.zeros((len(MODES), 4000))
    gained[MODES.index("exact"), :2000] = 12.0
    gained[MODES.index("down_10_next"), 2000:] = 4.0
    drawn = ways.draw_priors(gained, np.random.default_rng(4))
    for chains, own in ((slice(0, 2000), gained[:, 0]), (slice(2000, 4000), gained[:, -1])):
        same = (drawn[:, None, chains] == ways.counts.T[:, :, None]).all(axis=0)
        assert (same.sum(axis=0) == 1).all()
        assert same.mean(axis=1) == pytest.approx(ways.after(own), abs=0.04)


def look_at(amounts: list[int]) -> FirstLook:
    """Sixty pieces at 12.00, 14.00, … on the rail and payments of those amounts."""
    pieces = [a_piece(f"p{i}", 1200 + 200 * i) for i in range(60)]
    lines = [a_line(f"t{i}", amount) for i, amount in enumerate(amounts)]
    world = evidence(pieces, lines)
    problem = Problem(world, list(lines), Beliefs(Habits()), taken={}, boosts={})
    return first_look(problem, np.ones(60), 32, np.random.default_rng(3))


def test_chains_start_with_the_seller_the_amounts_speak_of() -> None:
    tens = look_at([2000, 3000, 4000, 5000, 6000, 7000, 8000, 9000, 10000, 11000] * 3)
    named = look_at([1200 + 200 * i for i in range(1, 60, 2)])
    by_ten = MODES.index("down_10_next")
    assert tens.one[by_ten].mean() > 3 * named.one[by_ten].mean()
    assert named.one[MODES.index("exact")].mean() > 0.7


def test_a_first_look_gives_every_chain_shares_that_sum_to_one() -> None:
    start = look_at([2000, 2500, 2600])
    for shares in (start.kind, start.one, start.many):
        assert shares.shape[1] == 32
        assert shares.sum(axis=0) == pytest.approx(np.ones(32))


def test_without_a_line_the_start_is_drawn_from_what_was_believed() -> None:
    start = look_at([])
    assert start.one.shape == (len(MODES), 32)
    assert start.one.sum(axis=0) == pytest.approx(np.ones(32))
