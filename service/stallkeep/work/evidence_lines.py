"""Transactions as money lines of the evidence."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from stallkeep.domain.matching import MoneyLine
from stallkeep.domain.tax import TaxSettings, tax_within
from stallkeep.domain.tax_terms import terms_on
from stallkeep.store.connection import Row
from stallkeep.store.shops import Shop
from stallkeep.work.shop_tax import tax_terms
from stallkeep.work.time_zones import on_shops_clock


def lines_told(lines: Mapping[str, Row], shop: Shop) -> tuple[MoneyLine, ...]:
    """Turn rows into lines; a refund is related to the one line whose outside id it names."""
    named: dict[str, list[str]] = defaultdict(list)
    for key, row in lines.items():
        if row["external_id"] is not None and row["kind"] != "refund":
            named[row["external_id"]].append(key)
    terms = tax_terms(shop)
    return tuple(
        _line(key, row, named, shop, terms_on(terms, row["occurred_on"]).settings)
        for key, row in lines.items()
    )


def _line(
    key: str, row: Row, named: Mapping[str, Sequence[str]], shop: Shop, tax: TaxSettings
) -> MoneyLine:
    related = [other for other in named.get(row["related_id"], ()) if other != key]
    return MoneyLine(
        transaction_id=str(row["id"]),
        kind=row["kind"],
        amount_minor=row["amount_minor"],
        occurred_on=row["occurred_on"],
        occurred_at=on_shops_clock(row["occurred_at"], shop.time_zone),
        tip_minor=row["tip_minor"],
        tax_minor=added_tax(row, tax),
        tax_added=tax.mode == "added",
        postage_minor=row["postage_minor"],
        method=row["method"],
        note=row["note"],
        title=row["title"],
        reference=row["reference"],
        tag_code=row["tag_code"],
        related_id=related[0] if len(related) == 1 else None,
        quantity=row["quantity"],
    )


def added_tax(row: Row, tax: TaxSettings) -> int | None:
    """Work out the tax on top of a stall's prices where the export does not tell it.

    What an online channel adds, it often keeps and does not show. *tax* is that of the row's day.
    """
    if row["tax_minor"] is not None or tax.mode != "added" or row["event_id"] is None:
        return row["tax_minor"]  # type: ignore[no-any-return]  # the driver's rows have no types
    return tax_within(row["amount_minor"] - (row["tip_minor"] or 0), tax)
