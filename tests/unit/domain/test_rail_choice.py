"""What to take: chances drawn together, and a ranking that says why."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from scipy import stats

from stallkeep.domain.rail_choice import Candidate, RailPlan, choose_rail
from stallkeep.domain.sell_chance import Kind, PastPieces, drawn, kind_of, learn_chances

MAY = dt.date(2026, 5, 2)
BANDS = (25_00, 50_00)


def past(
    taken: int, sold: int, category: str | None = "coats", price_band: int = 0, held_band: int = 0
) -> PastPieces:
    kind = Kind(category=category, price_band=price_band, held_band=held_band)
    return PastPieces(kind=kind, taken=taken, sold=sold)


def a_candidate(
    item_id: str, *, category: str | None = "coats", price_minor: int | None = 40_00,
    margin_minor: int | None = 20_00, days_held: int = 30, quantity: int = 1,
    reserved_until: dt.date | None = None,
) -> Candidate:  # fmt: skip
    return Candidate(
        item_id=item_id, category=category, price_minor=price_minor, margin_minor=margin_minor,
        days_held=days_held, quantity=quantity, reserved_until=reserved_until,
    )  # fmt: skip


def plan(
    *candidates: Candidate, history: tuple[PastPieces, ...] = (past(100, 20),), size: int = 10,
    include_reserved: bool = False,
) -> RailPlan:  # fmt: skip
    return choose_rail(
        candidates, history, size=size, on=MAY, currency="EUR", band_starts_minor=BANDS,
        include_reserved=include_reserved,
    )  # fmt: skip


def ranked(result: RailPlan) -> list[str]:
    return [choice.item_id for choice in result.choices]


def test_a_share_drawn_to_its_group_is_the_mean_of_the_beta_posterior() -> None:
    around, strength = 0.2, 15.0
    for sold, taken in ((0, 0), (0, 7), (3, 12), (40, 90)):
        posterior = stats.beta(strength * around + sold, strength * (1 - around) + taken - sold)
        assert drawn(sold, taken, around, strength) == pytest.approx(posterior.mean())


def test_before_any_history_every_piece_has_the_trade_s_usual_chance() -> None:
    chances = learn_chances(())
    assert chances.of(kind_of("coats", 40_00, 10, BANDS)) == pytest.approx(0.15)


def test_a_group_with_much_history_speaks_for_itself_and_one_with_little_does_not() -> None:
    chances = learn_chances([past(400, 80), past(400, 120, "ceramics"), past(2, 2, "hats")])
    coats, ceramics, hats = (
        chances.of(Kind(category=name, price_band=0, held_band=0))
        for name in ("coats", "ceramics", "hats")
    )
    assert coats == pytest.approx(0.2, abs=0.02)
    assert ceramics == pytest.approx(0.3, abs=0.02)
    assert 0.25 < hats < 0.55


def test_a_kind_without_history_takes_the_chance_of_the_group_around_it() -> None:
    chances = learn_chances([past(200, 40), past(200, 80, "ceramics")])
    unknown_band = Kind(category="coats", price_band=2, held_band=0)
    level, tally = chances.narrowest(unknown_band)
    assert (level, tally.taken, tally.sold) == (1, 200, 40)
    unknown_category = Kind(category="hats", price_band=0, held_band=0)
    assert chances.of(unknown_category) == chances.tallies[()].chance


def test_groups_that_differ_are_pooled_less_than_groups_that_are_alike() -> None:
    alike = learn_chances([past(100, 20, f"kind {n}") for n in range(12)])
    apart = learn_chances([past(100, 5 if n % 2 else 50, f"kind {n}") for n in range(12)])
    assert apart.strengths[0] < 10
    assert alike.strengths[0] > 50


def test_the_strength_learned_is_the_one_shops_were_made_with() -> None:
    rng = np.random.default_rng(5)
    for strength in (6.0, 60.0):
        chance = rng.beta(strength * 0.2, strength * 0.8, 300)
        history = [past(60, int(rng.binomial(60, p)), f"kind {n}") for n, p in enumerate(chance)]
        assert learn_chances(history).strengths[0] == pytest.approx(strength, rel=0.35)


def test_pooled_chances_predict_better_than_shares_alone_or_one_for_all() -> None:
    rng = np.random.default_rng(6)
    loss = {"pooled": 0.0, "alone": 0.0, "all": 0.0}
    for _ in range(40):
        truth = rng.beta(4, 16, 15)
        history = [past(12, int(rng.binomial(12, p)), f"kind {n}") for n, p in enumerate(truth)]
        chances = learn_chances(history)
        every = sum(h.sold for h in history) / sum(h.taken for h in history)
        for pieces, chance in zip(history, truth, strict=True):
            loss["pooled"] += (chances.of(pieces.kind) - chance) ** 2
            loss["alone"] += (pieces.sold / pieces.taken - chance) ** 2
            loss["all"] += (every - chance) ** 2
    assert loss["pooled"] < 0.9 * min(loss["alone"], loss["all"])


def test_pieces_are_sorted_into_bands_by_where_those_begin() -> None:
    assert kind_of("coats", 24_99, 59, BANDS) == Kind(category="coats", price_band=0, held_band=0)
    assert kind_of("coats", 25_00, 60, BANDS) == Kind(category="coats", price_band=1, held_band=1)
    assert kind_of("coats", 99_00, 365, BANDS) == Kind(category="coats", price_band=2, held_band=3)


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        (a_candidate("z", margin_minor=30_00), a_candidate("a")),
        (a_candidate("z", category="ceramics"), a_candidate("a")),
        (a_candidate("z", days_held=400), a_candidate("a", days_held=370)),
        (a_candidate("z"), a_candidate("a", margin_minor=-5_00)),
        (a_candidate("a"), a_candidate("z")),
        (a_candidate("z", margin_minor=-5_00, days_held=1), a_candidate("a", margin_minor=-6_00)),
    ],
)
def test_this_piece_is_taken_before_that_one(better: Candidate, worse: Candidate) -> None:
    history = (past(100, 20), past(100, 40, "ceramics"))
    for order in ((better, worse), (worse, better)):
        assert ranked(plan(*order, history=history)) == [better.item_id, worse.item_id]


def test_a_rail_takes_no_more_than_it_holds_and_says_what_stayed_out() -> None:
    cups = a_candidate("cups", margin_minor=30_00, quantity=3)
    coats = [a_candidate(f"coat {n}", margin_minor=20_00 - n) for n in range(3)]
    result = plan(cups, *coats, size=4)
    assert [(choice.item_id, choice.quantity) for choice in result.choices] == [
        ("cups", 3),
        ("coat 0", 1),
    ]
    assert [piece.item_id for piece in result.left_out] == ["coat 1", "coat 2"]
    assert result.left_out[0].sentence == "The rail is full; it stands at number 3."
    assert plan(cups, size=2).choices[0].quantity == 2
    assert plan(cups, size=0).choices == ()


def test_reserved_pieces_stay_home_unless_asked_for_or_free_again() -> None:
    held = a_candidate("held", reserved_until=MAY)
    free = a_candidate("free", reserved_until=MAY - dt.timedelta(days=1))
    priceless = a_candidate("priceless", price_minor=None)
    result = plan(held, free, priceless)
    assert ranked(result) == ["free"]
    assert [piece.sentence for piece in result.left_out] == [
        "It is reserved until 2026-05-02 for a sale online.",
        "It has no price.",
    ]
    assert ranked(plan(held, free, priceless, include_reserved=True)) == ["free", "held"]


def test_each_choice_says_why() -> None:
    history = (past(100, 20, price_band=1),)
    (choice,) = plan(a_candidate("coat"), history=history).choices
    assert choice.sentence == (
        "Of pieces like it 20 of 100 taken were sold, which makes a chance of 20%; margin 20.00; "
        "held 30 days."
    )
    assert choice.expected_minor == round(choice.chance * 20_00)
    (unknown,) = plan(a_candidate("coat", margin_minor=None)).choices
    assert "price (its cost is not known) 40.00" in unknown.sentence


def test_the_plan_adds_up_and_says_when_it_rests_on_little() -> None:
    result = plan(a_candidate("a"), a_candidate("b", quantity=2), history=(past(30, 6),))
    assert result.expected_pieces == pytest.approx(3 * result.choices[0].chance)
    assert result.expected_minor == 3 * result.choices[0].expected_minor
    assert result.limits == (
        "Only 30 pieces were taken to earlier events, so the chances are rough.",
    )
    assert plan(a_candidate("a")).limits == ()
