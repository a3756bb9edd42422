"""What a sale keeps of its receipt: sales tax and the rounding to the smallest coin."""

from __future__ import annotations

import datetime as dt
from typing import Any

import msgspec

from stallkeep.domain.tax import Receipt, TaxSettings
from stallkeep.store.channels import Channel
from stallkeep.store.shops import Shop
from stallkeep.work.shop_tax import tax_of


def tax_on(channel: Channel, shop: Shop, on: dt.date) -> TaxSettings:
    """Say how tax is dealt with on a channel on a day.

    Tax that comes on top of prices is asked for by the shop itself at a stall and when it sells
    directly; an online channel asks for it, so none is added to a sale there.
    """
    tax = tax_of(shop, on)
    if channel.kind == "online" and tax.mode == "added":
        return msgspec.structs.replace(tax, mode="none")
    return tax


def sale_columns(tax: TaxSettings, billed: Receipt) -> dict[str, Any]:
    """List what a sale keeps of its receipt; no tax where none was to be worked out."""
    return {
        "total_minor": billed.to_pay_minor,
        "tax_minor": None if tax.mode == "none" else billed.tax_minor,
        "tax_added": tax.mode == "added",
        "taxes": msgspec.to_builtins(billed.taxes),
        "cash_rounding_minor": billed.cash_rounding_minor,
    }


def line_taxes(tax: TaxSettings, billed: Receipt) -> list[int | None]:
    """List every line's part of the tax; None where none was to be worked out."""
    if tax.mode == "none":
        return [None] * len(billed.line_taxes_minor)
    return list(billed.line_taxes_minor)
