"""Change the shop's settings."""

from __future__ import annotations

from collections.abc import Mapping
from uuid import UUID

from stallkeep.store import shops
from stallkeep.store.connection import Connection
from stallkeep.work.shop_tax import tax_of
from stallkeep.work.time_zones import read_time_zone
from stallkeep.work.versions import Expected


async def change_shop(
    con: Connection, shop_id: UUID, values: Mapping[str, object], expected: Expected
) -> shops.Shop:
    """Change the columns named in *values*.

    Raises:
        StaleVersionError: The shop has changed since it was read.
        UnknownTimeZoneError: The new zone is none.
        TaxSettingsError: A rate is out of range.
    """
    if "time_zone" in values:
        read_time_zone(str(values["time_zone"]))
    shop = await shops.lock_shop(con, shop_id)
    expected.check(shop.version)
    changed = await shops.change_shop(con, shop_id, values) if values else shop
    tax_of(changed)
    return changed
