"""Sales tax against published receipts and fractions."""

from __future__ import annotations

import pytest

from stallkeep.domain.errors import TaxSettingsError
from stallkeep.domain.tax import TaxRate, TaxSettings, receipt, round_to_step, tax_parts, tax_within


def added(*rates_ppm: int, apart: bool = False, per_line: bool = False) -> TaxSettings:
    return TaxSettings(
        mode="added",
        rates=tuple(TaxRate(name=f"rate {i}", rate_ppm=r) for i, r in enumerate(rates_ppm)),
        parts_apart=apart,
        round_per="line" if per_line else "receipt",
        cash_step_minor=5,
    )


def included(*rates_ppm: int, per_line: bool = False) -> TaxSettings:
    return TaxSettings(
        mode="included",
        rates=tuple(TaxRate(name=f"rate {i}", rate_ppm=r) for i, r in enumerate(rates_ppm)),
        round_per="line" if per_line else "receipt",
    )


@pytest.mark.parametrize(
    ("net", "rate_ppm", "tax"),
    [
        # OpenStax Contemporary Mathematics, Sales Tax (m00058); the printed total of the first,
        # 464.87, is a misprint for 464.38.
        (428_99, 82_500, 35_39),
        (34_88, 82_500, 2_88),
        (499_00, 88_100, 43_96),
        # OpenStax Principles of Accounting Vol. 1, current liabilities (m67904, m67903).
        (18000_00, 60_000, 1080_00),
        (50_00, 80_000, 4_00),
    ],
)
def test_tax_is_added_to_the_price(net: int, rate_ppm: int, tax: int) -> None:
    paid = receipt([net], added(rate_ppm), in_cash=False)
    assert (paid.tax_minor, paid.gross_minor) == (tax, net + tax)
    assert tax_within(net + tax, added(rate_ppm)) == tax


@pytest.mark.parametrize(
    ("gross", "rate_ppm", "tax"),
    [
        # OpenStax Contemporary Mathematics (m00058): net 34.57, 93.21, 432.00.
        (36_56, 57_500, 36_56 - 34_57),
        (97_17, 42_500, 97_17 - 93_21),
        (467_64, 82_500, 35_64),
        # Town of Prescott Valley, Tax Factoring: 100 at 9.68 %.
        (100_00, 96_800, 8_83),
        # GOV.UK, VAT retail schemes, Point of Sale Scheme: 1/6 and 1/21.
        (24000_00, 200_000, 4000_00),
        (105_00, 50_000, 5_00),
        # Secondary sources: 7/47 at 17.5 %, 1/11 at 10 %.
        (24_00, 175_000, 3_57),
        (110_00, 100_000, 10_00),
        # Fractions by province (practitioner table), amounts worked out: 13/113, 15/115, 14/114,
        # 5/105 of 20.00.
        (20_00, 130_000, 2_30),
        (20_00, 150_000, 2_61),
        (20_00, 140_000, 2_46),
        (20_00, 50_000, 95),
    ],
)
def test_tax_inside_a_price_is_its_fraction(gross: int, rate_ppm: int, tax: int) -> None:
    paid = receipt([gross], included(rate_ppm), in_cash=False)
    assert (paid.tax_minor, paid.net_minor, paid.to_pay_minor) == (tax, gross - tax, gross)
    assert tax_within(gross, included(rate_ppm)) == tax


def test_a_town_s_tax_factor() -> None:
    # Town of Prescott Valley: factor .08825675 for 9.68 %, here on a million in money.
    assert tax_within(1_000_000_00, included(96_800)) == 88256_75


def test_two_rates_together_or_apart_may_differ_by_a_cent() -> None:
    # Both are allowed (Excise Tax Act s. 165.2, Interpretation Case 125136); numbers worked out.
    assert tax_parts(1_10, added(50_000, 80_000, apart=True)) == [6, 9]
    assert sum(tax_parts(1_10, added(50_000, 80_000))) == 14


@pytest.mark.parametrize(
    ("count", "price", "rate_ppm", "per_line", "per_receipt"),
    # Derived, half up, no publication behind them.
    [(2, 127, 50_000, 12, 13), (4, 249, 130_000, 128, 129), (7, 99, 130_000, 91, 90)],
)
def test_added_tax_per_line_and_per_receipt_differ_in_both_directions(
    count: int, price: int, rate_ppm: int, per_line: int, per_receipt: int
) -> None:
    prices = [price] * count
    assert receipt(prices, added(rate_ppm, per_line=True), in_cash=False).tax_minor == per_line
    assert receipt(prices, added(rate_ppm), in_cash=False).tax_minor == per_receipt


@pytest.mark.parametrize(
    ("count", "price", "rate_ppm", "per_line", "per_receipt"),
    # Derived, half up, no publication behind them: 13/113 and 1/6.
    [(7, 500, 130_000, 406, 403), (4, 99, 200_000, 68, 66)],
)
def test_included_tax_per_line_and_per_receipt_differ(
    count: int, price: int, rate_ppm: int, per_line: int, per_receipt: int
) -> None:
    prices = [price] * count
    assert receipt(prices, included(rate_ppm, per_line=True), in_cash=False).tax_minor == per_line
    assert receipt(prices, included(rate_ppm), in_cash=False).tax_minor == per_receipt


def test_cash_is_rounded_to_the_smallest_coin_after_tax_and_cards_are_not() -> None:
    # Government of Canada, Budget 2012, Rounding: 1.83 + 2.86 and 5 % is 4.92, cash 4.90.
    prices = [1_83, 2_86]
    in_cash = receipt(prices, added(50_000), in_cash=True)
    assert (in_cash.gross_minor, in_cash.to_pay_minor) == (4_92, 4_90)
    assert in_cash.cash_rounding_minor == -2
    assert receipt(prices, added(50_000), in_cash=False).to_pay_minor == 4_92


@pytest.mark.parametrize(
    ("amount", "paid"),
    # Québec consumer office: 5.98 and 5.97; Budget 2012: endings 1 2, 3 4, 6 7, 8 9.
    [
        (598, 600),
        (597, 595),
        (511, 510),
        (512, 510),
        (513, 515),
        (514, 515),
        (516, 515),
        (517, 515),
        (518, 520),
        (519, 520),
        (-598, -600),
    ],
)
def test_endings_go_to_the_nearest_five(amount: int, paid: int) -> None:
    assert round_to_step(amount, 5) == paid


def test_a_shop_that_is_not_registered_has_no_tax() -> None:
    settings = TaxSettings(rates=(TaxRate(name="unused", rate_ppm=200_000),))
    paid = receipt([1000, 500], settings, in_cash=True)
    assert (paid.tax_minor, paid.taxes, paid.to_pay_minor) == (0, (), 1500)
    assert tax_within(1500, settings) == 0


def test_taxes_are_shown_per_rate_and_sum_to_the_tax() -> None:
    paid = receipt([20_00], included(50_000, 99_750), in_cash=False)
    # Québec, 5 and 9.975 of 114.975: .8698 and 1.7352.
    assert [part.tax_minor for part in paid.taxes] == [87, 173]
    assert paid.tax_minor == 2_60


@pytest.mark.parametrize("rate_ppm", [-1, 1_000_001])
def test_a_rate_out_of_range_is_refused(rate_ppm: int) -> None:
    with pytest.raises(TaxSettingsError):
        TaxSettings(mode="added", rates=(TaxRate(name="odd", rate_ppm=rate_ppm),))
    with pytest.raises(TaxSettingsError):
        TaxSettings(cash_step_minor=0)
