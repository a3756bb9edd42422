"""Sales tax on prices: none, inside the price, or added at the till.

Rates are parts per million (190_000 is 19 %). Several rates are parts of one tax, a country's and
a region's; all are taken of the same net amount. Nothing here is a tax return.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Literal

import msgspec

from stallkeep.domain.errors import TaxSettingsError
from stallkeep.domain.money import apportion, half_up

MILLION = 1_000_000


class TaxRate(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One part of the sales tax.

    Attributes:
        name: As it is written on a receipt.
        rate_ppm: Of the net amount.
    """

    name: str
    rate_ppm: int


class TaxSettings(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a shop deals with sales tax. Plain JSON through msgspec.

    Attributes:
        mode: "none" (not registered), "included" (prices contain it) or "added" (at the till).
        rates: The parts; ignored with mode "none".
        round_per: Round the tax once per "receipt", or per "line" of it.
        parts_apart: True rounds every rate on its own, False their sum, which is then split.
        cash_step_minor: Smallest coin, where sums paid in cash are rounded to it; else None.

    Raises:
        TaxSettingsError: A rate or the smallest coin is out of range.
    """

    mode: Literal["none", "included", "added"] = "none"
    rates: tuple[TaxRate, ...] = ()
    round_per: Literal["line", "receipt"] = "receipt"
    parts_apart: bool = False
    cash_step_minor: int | None = None

    def __post_init__(self) -> None:
        if not all(0 <= rate.rate_ppm <= MILLION for rate in self.rates):
            raise TaxSettingsError("a tax rate must be from 0 to 100 per cent")
        if self.cash_step_minor is not None and self.cash_step_minor < 1:
            raise TaxSettingsError("the smallest coin must be worth something")


class TaxPart(msgspec.Struct, frozen=True, kw_only=True):
    """The tax at one rate, in minor units."""

    name: str
    rate_ppm: int
    tax_minor: int


class Receipt(msgspec.Struct, frozen=True, kw_only=True):
    """What a customer pays, and what of it is tax.

    Attributes:
        net_minor: Without tax.
        taxes: Tax per rate, in the order of the settings.
        tax_minor: Their sum.
        line_taxes_minor: Tax of each line, summing to the tax; where the tax is rounded once per
            receipt it is shared by price, by largest remainder.
        gross_minor: net + tax.
        cash_rounding_minor: Added to reach the smallest coin; 0 unless paid in cash.
        to_pay_minor: gross + cash rounding.
    """

    net_minor: int
    taxes: tuple[TaxPart, ...]
    tax_minor: int
    line_taxes_minor: tuple[int, ...]
    gross_minor: int
    cash_rounding_minor: int
    to_pay_minor: int


def receipt(
    prices_minor: Sequence[int],
    settings: TaxSettings,
    *,
    in_cash: bool,
    untaxed: Collection[int] = (),
) -> Receipt:
    """Add up a receipt.

    Args:
        prices_minor: Price of each line as the shop states prices: with tax when the mode is
            "included", else without; none negative.
        settings: How the shop deals with tax.
        in_cash: Whether the smallest coin matters; it does so after tax.
        untaxed: Places of lines, from 0, that no tax is worked out for (a margin scheme).
    """
    taxed = [0 if n in untaxed else price for n, price in enumerate(prices_minor)]
    sums = taxed if settings.round_per == "line" else [sum(taxed)]
    per_sum = [tax_parts(amount, settings) for amount in sums]
    taxes = _taxes(per_sum, settings)
    tax_minor = sum(part.tax_minor for part in taxes)
    stated = sum(prices_minor)
    gross = stated + tax_minor if settings.mode == "added" else stated
    step = settings.cash_step_minor if in_cash else None
    to_pay = gross if step is None else round_to_step(gross, step)
    if settings.round_per == "line":
        of_lines = [sum(parts) for parts in per_sum]
    else:
        of_lines = apportion(tax_minor, taxed) if tax_minor else [0] * len(taxed)
    return Receipt(
        net_minor=gross - tax_minor,
        taxes=taxes,
        tax_minor=tax_minor,
        line_taxes_minor=tuple(of_lines),
        gross_minor=gross,
        cash_rounding_minor=to_pay - gross,
        to_pay_minor=to_pay,
    )


def _taxes(per_sum: Sequence[Sequence[int]], settings: TaxSettings) -> tuple[TaxPart, ...]:
    """Add up per rate what each sum's tax is made of."""
    rates = settings.rates if settings.mode != "none" else ()
    return tuple(
        TaxPart(
            name=rate.name, rate_ppm=rate.rate_ppm, tax_minor=sum(parts[i] for parts in per_sum)
        )
        for i, rate in enumerate(rates)
    )


def tax_parts(stated_minor: int, settings: TaxSettings) -> list[int]:
    """Compute the tax on (mode "added") or within (mode "included") one stated amount, per rate.

    Each part is rounded half up; parts that are rounded together are split by largest remainder.
    """
    if settings.mode == "none":
        return []
    rates = [rate.rate_ppm for rate in settings.rates]
    whole = MILLION + (sum(rates) if settings.mode == "included" else 0)
    if settings.parts_apart or not any(rates):
        return [half_up(stated_minor * rate, whole) for rate in rates]
    return apportion(half_up(stated_minor * sum(rates), whole), rates)


def tax_within(paid_minor: int, settings: TaxSettings) -> int:
    """Compute the tax inside an amount that a customer has paid; 0 with mode "none".

    What is paid contains the tax whether prices include it or it is added at the till.
    """
    if settings.mode == "none":
        return 0
    rates = [rate.rate_ppm for rate in settings.rates]
    whole = MILLION + sum(rates)
    if settings.parts_apart:
        return sum(half_up(paid_minor * rate, whole) for rate in rates)
    return half_up(paid_minor * sum(rates), whole)


def tax_in_price(price_minor: int, settings: TaxSettings) -> int:
    """Compute the tax inside a price as the shop states it; 0 where tax comes on top of prices."""
    return tax_within(price_minor, settings) if settings.mode == "included" else 0


def round_to_step(amount_minor: int, step_minor: int) -> int:
    """Round to the nearest multiple of the smallest coin; halves go away from zero."""
    return half_up(amount_minor, step_minor) * step_minor
