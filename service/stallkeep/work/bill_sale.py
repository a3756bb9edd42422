"""What a customer pays for a sale: its lines, the shop's sales tax, the smallest coin."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

import msgspec

from stallkeep.domain.tax import Receipt, receipt
from stallkeep.store.shops import Shop
from stallkeep.work.event_result import tax_of


def bill(
    shop: Shop, prices_minor: Sequence[int], method: str | None, untaxed: Collection[int]
) -> Receipt:
    """Add up a sale as the shop's settings say.

    Args:
        shop: The shop.
        prices_minor: Of the lines, as the shop states prices.
        method: How it is paid; only cash is rounded to the smallest coin.
        untaxed: Places of lines under a margin scheme.
    """
    return receipt(prices_minor, tax_of(shop), in_cash=method == "cash", untaxed=untaxed)


def sale_columns(shop: Shop, billed: Receipt) -> dict[str, Any]:
    """List what a sale keeps of its receipt; without tax where the shop is not registered."""
    is_taxed = shop.tax_mode != "none"
    return {
        "total_minor": billed.to_pay_minor,
        "tax_minor": billed.tax_minor if is_taxed else None,
        "tax_added": shop.tax_mode == "added",
        "taxes": msgspec.to_builtins(billed.taxes),
        "cash_rounding_minor": billed.cash_rounding_minor,
    }


def line_taxes(shop: Shop, billed: Receipt) -> list[int | None]:
    """List every line's part of the tax; None where the shop is not registered."""
    if shop.tax_mode == "none":
        return [None] * len(billed.line_taxes_minor)
    return list(billed.line_taxes_minor)
