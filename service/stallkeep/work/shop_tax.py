"""How a shop deals with sales tax."""

from __future__ import annotations

import msgspec

from stallkeep.domain.tax import TaxSettings
from stallkeep.store.shops import Shop


def tax_of(shop: Shop) -> TaxSettings:
    """Read how the shop deals with sales tax."""
    told = {
        "mode": shop.tax_mode,
        "rates": shop.tax_rates,
        "round_per": shop.tax_round_per,
        "parts_apart": shop.tax_parts_apart,
        "cash_step_minor": shop.cash_step_minor,
    }
    return msgspec.convert(told, TaxSettings)
