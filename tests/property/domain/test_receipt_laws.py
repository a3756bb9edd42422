"""Laws of receipts: the taxes of lines sum to the tax, whatever is rounded, shared or left out."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from tests.property.domain.strategies import tax_settings

from stallkeep.domain.tax import TaxSettings, receipt, tax_parts

some_prices = st.lists(st.integers(0, 10**6), min_size=1, max_size=8)


@given(some_prices, tax_settings, st.booleans(), st.sets(st.integers(0, 7)))
def test_every_line_s_tax_is_a_part_of_the_receipt_s(
    prices: list[int], settings: TaxSettings, in_cash: bool, untaxed: set[int]
) -> None:
    paid = receipt(prices, settings, in_cash=in_cash, untaxed=untaxed)
    assert len(paid.line_taxes_minor) == len(prices)
    assert sum(paid.line_taxes_minor) == paid.tax_minor == sum(t.tax_minor for t in paid.taxes)
    assert all(paid.line_taxes_minor[n] == 0 for n in untaxed if n < len(prices))
    assert all(tax >= 0 for tax in paid.line_taxes_minor)
    on_top = paid.tax_minor if settings.mode == "added" else 0
    assert paid.to_pay_minor == sum(prices) + on_top + paid.cash_rounding_minor


@given(some_prices, tax_settings)
def test_lines_rounded_alone_are_receipts_of_their_own(
    prices: list[int], settings: TaxSettings
) -> None:
    paid = receipt(prices, settings, in_cash=False)
    alone = [sum(tax_parts(price, settings)) for price in prices]
    if settings.round_per == "line":
        assert list(paid.line_taxes_minor) == alone
    else:
        roundings = (len(prices) + 1) * max(1, len(settings.rates))
        assert abs(sum(alone) - paid.tax_minor) <= roundings


@given(some_prices, tax_settings, st.sets(st.integers(0, 7)))
def test_lines_without_tax_change_no_other_s(
    prices: list[int], settings: TaxSettings, untaxed: set[int]
) -> None:
    kept = [price for n, price in enumerate(prices) if n not in untaxed]
    paid = receipt(prices, settings, in_cash=False, untaxed=untaxed)
    assert paid.tax_minor == receipt(kept, settings, in_cash=False).tax_minor
