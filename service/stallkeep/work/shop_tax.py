"""How a shop deals with sales tax, and from which day on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from stallkeep.domain.tax import TaxSettings
from stallkeep.domain.tax_terms import TaxTerms, terms_on
from stallkeep.store.shops import Shop

COLUMNS = ("tax_mode", "tax_rates", "tax_round_per", "tax_parts_apart", "reclaims_tax")


def tax_of(shop: Shop, on: dt.date) -> TaxSettings:
    """Tell how the shop deals with sales tax on a day.

    What nothing tells of an event's money is worked out as on the event's first day, refunds
    given later included; else the day of the sale or payment decides.
    """
    return terms_on(tax_terms(shop), on).settings


def reclaims_tax(shop: Shop, on: dt.date) -> bool:
    """Tell whether the tax within costs of a day is taken off them."""
    return terms_on(tax_terms(shop), on).reclaims_tax


def ever_taxed(shop: Shop) -> bool:
    """Whether the shop deals with sales tax at any time."""
    return any(one.settings.mode != "none" for one in tax_terms(shop))


def tax_terms(shop: Shop) -> tuple[TaxTerms, ...]:
    """List the shop's terms by the day they begin; the first hold from the beginning.

    Raises:
        TaxSettingsError: A rate or the smallest coin is out of range.
    """
    last = {name: getattr(shop, name) for name in COLUMNS} | {"tax_from": shop.tax_from}
    return tuple(_terms(one, shop.cash_step_minor) for one in (*shop.tax_before, last))


def _terms(told: Mapping[str, Any], cash_step_minor: int | None) -> TaxTerms:
    settings = {
        "mode": told["tax_mode"],
        "rates": told["tax_rates"],
        "round_per": told["tax_round_per"],
        "parts_apart": told["tax_parts_apart"],
        "cash_step_minor": cash_step_minor,
    }
    return TaxTerms(
        from_on=msgspec.convert(told["tax_from"], dt.date | None),
        settings=msgspec.convert(settings, TaxSettings),
        reclaims_tax=told["reclaims_tax"],
    )


def terms_columns(terms: Sequence[TaxTerms]) -> dict[str, object]:
    """Write terms as columns of the shop: the last ones, and all before them."""
    *before, last = terms
    return {
        **_columns(last),
        "tax_from": last.from_on,
        "tax_before": [msgspec.to_builtins(_columns(one)) for one in before],
    }


def _columns(one: TaxTerms) -> dict[str, object]:
    return {
        "tax_mode": one.settings.mode,
        "tax_rates": msgspec.to_builtins(one.settings.rates),
        "tax_round_per": one.settings.round_per,
        "tax_parts_apart": one.settings.parts_apart,
        "reclaims_tax": one.reclaims_tax,
        "tax_from": one.from_on,
    }
