"""Average cost of pieces held in number, against published figures."""

from __future__ import annotations

import datetime as dt

import pytest

from stallkeep.domain.batches import Batch, SoldOff, stock_card
from stallkeep.domain.errors import StockLotError

MAY = dt.date(2026, 5, 1)


def day(number: int) -> dt.date:
    return MAY + dt.timedelta(days=number)


# OpenStax Principles of Accounting Vol. 1, inventory (m67890): 150 at 21, 225 at 27, 210 at 33,
# available 16,155; sold 120, then 180.
LOTS = [
    Batch(quantity=150, cost_minor=150 * 21_00, acquired_on=day(0)),
    Batch(quantity=225, cost_minor=225 * 27_00, acquired_on=day(10)),
    Batch(quantity=210, cost_minor=210 * 33_00, acquired_on=day(20)),
]


def test_all_sold_after_the_last_batch_cost_the_weighted_average() -> None:
    # The book rounds the average to 27.62 first and prints a cost of 8,283 and a stock of 7,872;
    # unrounded they are 8,284.62 and 7,870.38.
    *came, sold = stock_card(LOTS, [SoldOff(quantity=300, sold_on=day(30))])
    assert came[-1].left_cost_minor == 16155_00
    assert (sold.cost_minor, sold.left, sold.left_cost_minor) == (-8284_62, 285, 7870_38)


def test_the_average_moves_with_every_batch() -> None:
    # The same lots, the first 120 sold after the second batch. Derived by hand: 375 pieces cost
    # 9,225, so 120 cost 2,952 and 255 are left at 6,273; 465 cost 13,203, so 180 cost 5,110.84.
    sales = [SoldOff(quantity=180, sold_on=day(25)), SoldOff(quantity=120, sold_on=day(15))]
    moves = stock_card(LOTS, sales)
    assert [move.quantity for move in moves] == [150, 225, -120, 210, -180]
    assert [move.cost_minor for move in moves if move.quantity < 0] == [-2952_00, -5110_84]
    assert (moves[-1].left, moves[-1].left_cost_minor) == (285, 13203_00 - 5110_84)


def test_the_last_piece_takes_the_odd_cent() -> None:
    batch = Batch(quantity=3, cost_minor=10_00)
    moves = stock_card([batch], [SoldOff(quantity=1, sold_on=day(n)) for n in range(3)])
    assert [move.cost_minor for move in moves[1:]] == [-3_33, -3_34, -3_33]
    assert (moves[-1].left, moves[-1].left_cost_minor) == (0, 0)


def test_a_batch_dated_after_its_sale_was_there_already() -> None:
    late = Batch(quantity=5, cost_minor=50_00, acquired_on=day(9))
    moves = stock_card([late], [SoldOff(quantity=2, sold_on=day(3))])
    assert [move.cost_minor for move in moves] == [50_00, -20_00]


def test_more_cannot_be_sold_than_came_in() -> None:
    with pytest.raises(StockLotError):
        stock_card(LOTS, [SoldOff(quantity=586, sold_on=day(30))])
    assert stock_card([], []) == ()
