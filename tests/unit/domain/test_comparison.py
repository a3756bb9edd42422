"""An event beside others, and its pieces beside the channels."""

from __future__ import annotations

import datetime as dt

import pytest

from stallkeep.domain.comparison import EventLine, compare_events
from stallkeep.domain.elsewhere import Offer, SoldHere, channel_earnings, elsewhere
from stallkeep.domain.waiting import Wait, median_days


def a_line(
    name: str,
    net_minor: int,
    *,
    days: int = 1,
    kind: str | None = "harbour",
    minutes: int | None = None,
) -> EventLine:
    return EventLine(
        id=name,
        name=name,
        kind=kind,
        starts_on=dt.date(2026, 5, 2),
        days=days,
        net_minor=net_minor,
        takings_minor=net_minor * 2,
        pieces_sold=7 * days,
        pieces_taken=80,
        open_minutes=minutes,
    )


def an_offer(
    take_home_minor: int = 0, cost_minor: int | None = 10_00, *, days: int | None = 30,
    category: str | None = "coats", channel: str = "online", is_sold: bool = True,
) -> Offer:  # fmt: skip
    return Offer(
        channel=channel, category=category, days=days, is_sold=is_sold,
        take_home_minor=take_home_minor, cost_minor=cost_minor,
    )  # fmt: skip


def test_half_of_the_patients_leave_remission_after_23_weeks() -> None:
    # Freireich et al. (1963), 6-mercaptopurine group, as printed in textbooks of survival
    # analysis (from memory): product-limit median 23, with 12 of 21 censored.
    ended = [6, 6, 6, 7, 10, 13, 16, 22, 23]
    censored = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
    waits = [Wait(days=d, is_sold=True) for d in ended]
    waits += [Wait(days=d, is_sold=False) for d in censored]
    assert median_days(waits) == 23
    # Placebo group, nobody censored: 8.
    placebo = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]
    assert median_days([Wait(days=d, is_sold=True) for d in placebo]) == 8


def test_pieces_still_waiting_make_a_channel_slower() -> None:
    sold = [Wait(days=d, is_sold=True) for d in (10, 20, 30)]
    assert median_days(sold) == 20
    assert median_days([*sold, Wait(days=90, is_sold=False)]) == 20
    assert median_days([*sold, *[Wait(days=90, is_sold=False)] * 3]) == 30
    assert median_days([*sold, *[Wait(days=90, is_sold=False)] * 4]) is None
    assert median_days([Wait(days=90, is_sold=False)]) is None
    assert median_days([]) is None


def test_events_are_compared_per_day_and_like_for_like() -> None:
    this = a_line("this", 300_00, days=2, minutes=960)
    others = [
        a_line("best", 200_00),
        a_line("three days", 240_00, days=3),
        a_line("other kind", 900_00, kind="town"),
    ]
    answer = compare_events(this, others, "EUR")
    assert answer.like_for_like
    assert [line.name for line in answer.others] == ["best", "three days"]
    # Per day: 150 here; 440 over 4 days elsewhere.
    assert (answer.this.net_minor, answer.average_net_minor, answer.rank) == (150_00, 110_00, 2)
    assert answer.this.net_per_hour_minor == 18_75
    assert answer.sentence == (
        "This event earned 150.00 per day, 40.00 more than the average of 2 others: number 2 of 3."
    )


def test_with_too_few_of_a_kind_all_events_are_compared() -> None:
    answer = compare_events(
        a_line("this", 100_00), [a_line("a", 50_00), a_line("b", 150_00, kind="town")], "EUR"
    )
    assert not answer.like_for_like
    assert answer.rank == 2
    alone = compare_events(a_line("this", 100_00), [], "EUR")
    assert (alone.average_net_minor, alone.rank) == (None, 1)
    assert "no other" in alone.sentence


def test_earnings_of_a_channel_in_all_and_by_category() -> None:
    offers = [
        an_offer(30_00, days=10),
        an_offer(21_00, days=40),
        an_offer(is_sold=False, days=100),
        an_offer(15_00, 5_00, category="ceramics", days=20),
        an_offer(99_00, None, category=None, days=None),
    ]
    whole, ceramics, coats = channel_earnings(offers)
    # 20 + 11 + 10 over three with a known cost; 31 over two.
    assert (whole.sold, whole.offered, whole.over_cost_minor) == (3, 5, 13_67)
    assert (coats.category, coats.over_cost_minor, coats.median_days) == ("coats", 15_50, 40)
    assert (ceramics.over_cost_minor, ceramics.median_days) == (10_00, 20)


def test_pieces_would_have_earned_the_channel_s_averages() -> None:
    offers = [an_offer(30_00, days=n) for n in range(10, 15)]
    offers += [an_offer(15_00, 5_00, category="ceramics", days=50) for _ in range(5)]
    pieces = [SoldHere(category="coats", over_cost_minor=25_00)] * 2
    (answer,) = elsewhere(pieces, offers, "EUR")
    # Average of all ten 15; coats (5 x 20 + 5 x 15) / 10 = 17.50 each.
    assert answer.there_minor == 35_00
    assert answer.here_minor == 50_00
    assert (answer.median_days, answer.from_sales) == (12, 10)
    assert answer.sentence == (
        "These 2 pieces would have earned 35.00 over cost on online if all sold there, half of "
        "them within about 12 days, going by 10 sales."
    )


def test_one_lucky_sale_does_not_speak_for_a_category() -> None:
    offers = [an_offer(110_00, category="rare")] + [an_offer(20_00) for _ in range(9)]
    (answer,) = elsewhere([SoldHere(category="rare", over_cost_minor=0)], offers, "EUR")
    # Average (100 + 9 x 10) / 10 = 19; (100 + 5 x 19) / 6 = 32.50, not 100.
    assert answer.there_minor == 32_50


@pytest.mark.parametrize("offers", [[], [an_offer(is_sold=False)], [an_offer(5_00, None)]])
def test_a_channel_without_a_known_sale_says_nothing(offers: list[Offer]) -> None:
    assert elsewhere([SoldHere(category="coats", over_cost_minor=0)], offers, "EUR") == ()
