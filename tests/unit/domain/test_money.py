"""Money against ISO 4217, the general decimal arithmetic and published allocations."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal

import pytest
from babel.numbers import get_currency_precision
from iso4217 import Currency

from stallkeep.domain.currencies import MINOR_UNITS
from stallkeep.domain.errors import (
    MoneyTextError,
    UnknownCurrencyError,
    UnsplittableAmountError,
)
from stallkeep.domain.money import (
    apportion,
    from_text,
    half_even,
    half_up,
    minor_units,
    to_text,
)

DIGITS_DIFFER = ["AFN", "ALL", "IRR", "KPW", "LAK", "LBP", "MGA", "MMK", "RSD", "SOS", "SYP", "YER"]


@pytest.mark.parametrize(
    ("currency", "digits"),
    # ISO 4217 tables A1/A2 as data, github.com/datasets/currency-codes, snapshot 2026-02-01.
    [
        ("JPY", 0),
        ("ISK", 0),
        ("USD", 2),
        ("EUR", 2),
        ("GBP", 2),
        ("CAD", 2),
        ("KWD", 3),
        ("BHD", 3),
        ("TND", 3),
        ("CLF", 4),
    ],
)
def test_minor_units_are_those_of_iso_4217(currency: str, digits: int) -> None:
    assert minor_units(currency) == digits


def test_every_currency_agrees_with_an_independent_copy_of_the_standard() -> None:
    published = {c.code: c.exponent for c in Currency if c.exponent is not None}
    assert published == MINOR_UNITS


def test_digits_used_in_everyday_text_are_not_taken_for_minor_units() -> None:
    # CLDR writes these without decimals although ISO 4217 has two (three for IQD).
    for currency in DIGITS_DIFFER:
        assert get_currency_precision(currency) == 0
        assert minor_units(currency) == 2
    assert minor_units("IQD") == 3


@pytest.mark.parametrize(
    ("minor", "currency", "text"),
    [
        (1250, "EUR", "12.50"),
        (-1250, "EUR", "-12.50"),
        (5, "EUR", "0.05"),
        (-5, "EUR", "-0.05"),
        (0, "EUR", "0.00"),
        (1250, "JPY", "1250"),
        (-1, "JPY", "-1"),
        (1250, "KWD", "1.250"),
        (1, "CLF", "0.0001"),
        (10**15, "EUR", "10000000000000.00"),
    ],
)
def test_an_amount_is_written_with_all_decimals_of_its_currency(
    minor: int, currency: str, text: str
) -> None:
    assert to_text(minor, currency) == text
    assert from_text(text, currency) == minor


@pytest.mark.parametrize(
    "text",
    [
        "",
        "12",
        "12.5",
        "12.500",
        "12,50",
        " 12.50",
        "12.50\n",
        "+12.50",
        "1 000.00",
        "1_000.00",
        "1,000.00",
        "012.50",
        ".50",
        "12.",
        "-0.00",
        "--1.00",
        "NaN",
        "Infinity",
        "1e2",
        "€12.50",
        "\u0661\u0662.\u0665\u0660",
        "\uff11\uff12.\uff15\uff10",
        "10000000000000.01",
        "9" * 400 + ".00",
    ],
)
def test_anything_else_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(MoneyTextError, match=r"write it like '12\.50'"):
        from_text(text, "EUR")


@pytest.mark.parametrize("currency", ["eur", "EURO", "", "XXX", "XAU", "ZZZ", "DEM"])
def test_a_currency_that_is_not_in_use_is_refused(currency: str) -> None:
    with pytest.raises(UnknownCurrencyError):
        from_text("1.00", currency)
    with pytest.raises(UnknownCurrencyError):
        to_text(100, currency)


@pytest.mark.parametrize(
    ("text", "up"),
    # General Decimal Arithmetic testcases, quantize.decTest, quax093 to quax099 (half up, 0.01).
    [("1.2345", 123), ("1.2355", 124), ("9.9999", 1000), ("0.009", 1), ("0.001", 0)],
)
def test_half_up_rounds_as_the_decimal_testcases_do(text: str, up: int) -> None:
    exact = Decimal(text)
    numerator, denominator = exact.as_integer_ratio()
    assert half_up(numerator * 100, denominator) == up


@pytest.mark.parametrize(
    ("numerator", "even", "up"),
    # Python documentation of round() and decimal (from memory), 0.5 to 2.5 and their negatives.
    [(1, 0, 1), (3, 2, 2), (5, 2, 3), (-1, 0, -1), (-3, -2, -2), (-5, -2, -3)],
)
def test_halves_go_to_even_or_away_from_zero(numerator: int, even: int, up: int) -> None:
    assert half_even(numerator, 2) == even
    assert half_up(numerator, 2) == up


def test_a_price_of_2_675_rounds_up_where_a_binary_float_would_not() -> None:
    # Python documentation of round(): round(2.675, 2) is 2.67; from memory.
    assert half_up(2675, 10) == 268
    assert half_even(2675, 10) == 268


def test_rounding_agrees_with_the_decimal_module() -> None:
    for numerator in range(-60, 61):
        for denominator in (1, 2, 3, 4, 7, 8, 20):
            exact = Decimal(numerator) / Decimal(denominator)
            assert half_up(numerator, denominator) == int(exact.to_integral_value(ROUND_HALF_UP))
            assert half_even(numerator, denominator) == int(
                exact.to_integral_value(ROUND_HALF_EVEN)
            )


@pytest.mark.parametrize(
    ("total", "weights", "parts"),
    [
        # Manual of a PHP money library, Allocation (moneyphp, doc/features/allocation.rst).
        (5, [70, 30], [4, 1]),
        (5, [30, 70], [2, 3]),
        (800, [1, 1, 1], [267, 267, 266]),
        # OpenStax Contemporary Mathematics, Fairness in Apportionment Methods (m00029).
        (10, [6, 6, 2], [4, 4, 2]),
        (11, [6, 6, 2], [5, 5, 1]),
        (18, [825, 613, 239], [9, 7, 2]),
        (18, [882, 626, 242], [9, 6, 3]),
        (38, [894000, 696000, 215000], [19, 15, 4]),
        (38, [953000, 706000, 218000], [19, 14, 5]),
        # Apportionment Methods (m00028) prints 87, 424, 1, 31, 73 because it lifts the third
        # share to a minimum of one first; without that extra rule:
        (616, [46310, 224230, 20, 16560, 38450], [88, 424, 0, 31, 73]),
        (-5, [70, 30], [-3, -2]),
        (0, [1, 0], [0, 0]),
        (7, [0, 3, 0], [0, 7, 0]),
    ],
)
def test_the_largest_remainder_decides(total: int, weights: list[int], parts: list[int]) -> None:
    assert apportion(total, weights) == parts


@pytest.mark.parametrize("weights", [[], [0, 0], [2, -1]])
def test_an_amount_cannot_be_split_by_nothing_or_by_negative_weights(weights: list[int]) -> None:
    with pytest.raises(UnsplittableAmountError):
        apportion(100, weights)
