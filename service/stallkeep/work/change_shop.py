"""Change the shop's settings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any
from uuid import UUID

import msgspec

from stallkeep.domain.errors import TaxSettingsError
from stallkeep.domain.tax_terms import terms_on, with_terms
from stallkeep.store import shops
from stallkeep.store.connection import Connection
from stallkeep.work.shop_tax import COLUMNS, tax_terms, terms_columns
from stallkeep.work.time_zones import read_time_zone
from stallkeep.work.versions import Expected


async def change_shop(
    con: Connection,
    shop_id: UUID,
    values: Mapping[str, Any],
    expected: Expected,
    *,
    today: dt.date,
) -> shops.Shop:
    """Change the columns named in *values*.

    What is said of tax holds from the day `tax_from`, else from *today*, to the next day on which
    other terms begin; what was before stays. Only while the shop has nothing that could change
    (no money, no sale, no cost), it holds from the beginning.

    Raises:
        StaleVersionError: The shop has changed since it was read.
        UnknownTimeZoneError: The new zone is none.
        TaxSettingsError: A rate is out of range, or a day is given and nothing that holds from it.
    """
    if "time_zone" in values:
        read_time_zone(str(values["time_zone"]))
    shop = await shops.lock_shop(con, shop_id)
    expected.check(shop.version)
    plain = {name: value for name, value in values.items() if name not in {*COLUMNS, "tax_from"}}
    said = {name: values[name] for name in COLUMNS if name in values}
    from_on = values.get("tax_from")
    if said:
        is_new = from_on is None and not await shops.has_money(con, shop_id)
        plain |= _terms_said(shop, said, None if is_new else from_on or today, today)
    elif from_on is not None:
        raise TaxSettingsError("tax_from is the first day of a change; say what changes as well")
    changed = await shops.change_shop(con, shop_id, plain) if plain else shop
    tax_terms(changed)
    return changed


def _terms_said(
    shop: shops.Shop, said: Mapping[str, Any], from_on: dt.date | None, today: dt.date
) -> dict[str, object]:
    """Change the terms of a day by what was said, and put them among the others."""
    terms = tax_terms(shop)
    stood = terms_on(terms, from_on or today)
    now = terms_columns([msgspec.structs.replace(stood, from_on=from_on)]) | dict(said)
    [new] = tax_terms(msgspec.structs.replace(shop, **now))
    return terms_columns(with_terms(terms, new))
