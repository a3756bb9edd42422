"""Break-even and its relatives against OpenStax, Principles of Accounting, volume 2, chapter 3."""

from __future__ import annotations

from fractions import Fraction

import pytest

from stallkeep.domain.break_even import (
    Product,
    before_tax,
    margin_of_safety,
    mixes_for,
    operating_leverage,
    pieces_for,
    profit,
    sales_for,
    whole_pieces,
)
from stallkeep.domain.errors import NeverBreaksEvenError


def test_a_kiosk_selling_t_shirts_earns_what_the_book_says() -> None:
    # 3.1 Contribution Margin (m68115): price 25, shirt 15, commission 0.50, rent 300, salary 400.
    assert profit(25_00, 15_50, 700_00, 100) == 250_00
    assert profit(25_00, 15_50, 700_00, 200) == 1200_00
    # Derived from the same figures, not printed: 73.684 pieces, so 74.
    assert whole_pieces(pieces_for(25_00, 15_50, 700_00)) == 74


@pytest.mark.parametrize(
    ("price", "variable", "fixed", "target", "pieces", "sales"),
    # 3.2 Break-Even Point in Units and Dollars (m68116).
    [
        (100, 20, 18000, 0, 225, 22500),
        (100, 20, 18000, 16000, 425, 42500),
        (400, 150, 14000, 0, 56, 22400),
        (400, 150, 14000, 10000, 96, 38400),
        (35, 20, 3000, 0, 200, 7000),
        (1250, 850, 16800, 0, 42, 52500),
        (500, 300, 100000, 0, 500, 250000),
        (500, 300, 100000, 50000, 750, 375000),
    ],
)
def test_pieces_and_sales_to_break_even_or_reach_a_target(
    *, price: int, variable: int, fixed: int, target: int, pieces: int, sales: int
) -> None:
    assert pieces_for(price, variable, fixed, target) == pieces
    assert sales_for(price, variable, fixed, target) == sales


def test_profit_on_both_sides_of_break_even() -> None:
    # 3.2 (m68116) and 3.1 (m68115).
    assert profit(100, 20, 18000, 175) == -4000
    assert profit(100, 20, 18000, 300) == 6000
    assert profit(500, 300, 100000, 1) == -99800
    assert profit(500, 300, 100000, 501) == 200
    assert profit(100, 20, 23000, 500) == 17000
    assert profit(100, 20, 23000, 750) == 37000


def test_a_target_after_income_tax_is_lifted_before_it() -> None:
    # 3.2 (m68116): 24,000 after 40 % tax.
    assert before_tax(24000, 400_000) == 40000
    assert pieces_for(100, 20, 18000, 40000) == 725
    assert sales_for(100, 20, 18000, 40000) == 72500


@pytest.mark.parametrize(
    ("price", "variable", "fixed", "pieces", "sales", "profit_at_1500"),
    # 3.3 Break-Even Sensitivity Analysis for a Single Product (m68118).
    [
        (375, 150, 2475_00, 1100, 4125_00, 900_00),
        (425, 150, 2475_00, 900, 3825_00, 1650_00),
        (375, 155, 2475_00, 1125, 4218_75, 825_00),
        (375, 150, 2700_00, 1200, 4500_00, 675_00),
        (375, 145, 2875_00, 1250, 4687_50, 575_00),
        (395, 145, 2875_00, 1150, 4542_50, 875_00),
    ],
)
def test_break_even_moves_with_price_and_costs(
    *, price: int, variable: int, fixed: int, pieces: int, sales: int, profit_at_1500: int
) -> None:
    assert pieces_for(price, variable, fixed) == pieces
    assert sales_for(price, variable, fixed) == sales
    assert profit(price, variable, fixed, 1500) == profit_at_1500


def test_a_mix_of_two_products_breaks_even_together() -> None:
    # 3.4 Multi-Product Environment (m68119): mix 3 to 1.
    products = [
        Product(share=3, price_minor=10, variable_minor=4),
        Product(share=1, price_minor=9, variable_minor=5),
    ]
    mixes = mixes_for(products, 220000)
    assert mixes == 10000
    assert [mixes * p.share for p in products] == [30000, 10000]
    assert sum(mixes * p.share * p.price_minor for p in products) == 390000


def test_a_mix_of_three_products_and_a_basket() -> None:
    # 3.4 (m68119): mix 5 to 3 to 2, printed 23,577, 14,146 and 9,431 pieces.
    products = [
        Product(share=5, price_minor=625, variable_minor=325),
        Product(share=3, price_minor=775, variable_minor=450),
        Product(share=2, price_minor=925, variable_minor=625),
    ]
    mixes = mixes_for(products, 145000_00)
    assert float(mixes) == pytest.approx(4715.45, abs=0.005)
    assert [round(mixes * p.share) for p in products] == [23577, 14146, 9431]
    # The basket: margin 3.50 on sales of 9.50; with fixed costs of 3.50 one basket breaks even.
    basket = [
        Product(share=5, price_minor=60, variable_minor=25),
        Product(share=3, price_minor=100, variable_minor=75),
        Product(share=2, price_minor=80, variable_minor=50),
        Product(share=1, price_minor=190, variable_minor=150),
    ]
    assert sum(p.share * p.price_minor for p in basket) == 950
    assert mixes_for(basket, 350) == 1


def test_margin_of_safety_and_leverage() -> None:
    # 3.5 (m68120). A caption prints break-even sales of 170,000, rounded; the table has 171,000.
    assert pieces_for(90, 40, 85000) == 1700
    safety = margin_of_safety(225000, sales_for(90, 40, 85000))
    assert safety == (Fraction(72000), Fraction(32, 100))
    assert pieces_for(90, 40, 95000) == 1900
    assert sales_for(90, 40, 95000) == 171000
    first = operating_leverage(148000, 85000)
    second = operating_leverage(210000, 85000)
    assert float(first) == pytest.approx(1.74, abs=0.005)
    assert float(second) == pytest.approx(2.47, abs=0.005)
    # Sales 20 % lower: the book multiplies the rounded leverage, 34.8 % and 49.4 %.
    assert float(first * 20) == pytest.approx(34.8, abs=0.05)
    assert float(second * 20) == pytest.approx(49.4, abs=0.05)


def test_a_piece_sold_below_its_cost_never_breaks_even() -> None:
    with pytest.raises(NeverBreaksEvenError):
        pieces_for(20, 20, 100)
    with pytest.raises(NeverBreaksEvenError):
        operating_leverage(10, 0)
