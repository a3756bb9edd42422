"""Open a shop, and hand out its first token."""

from __future__ import annotations

from collections.abc import Sequence

from stallkeep.domain.errors import RejectedInputError
from stallkeep.domain.money import minor_units
from stallkeep.store.connection import Pool
from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id
from stallkeep.store.shops import Shop, add_shop
from stallkeep.work.hand_out_token import hand_out_token
from stallkeep.work.time_zones import read_time_zone


async def open_shop(
    pool: Pool, name: str, currency: str, time_zone: str, languages: Sequence[str] = ("en",)
) -> tuple[Shop, str]:
    """Make a shop and its owner's token.

    Args:
        pool: Where to make it.
        name: For people.
        currency: ISO 4217 code; every amount of the shop is in it.
        time_zone: IANA name.
        languages: ISO 639-1 codes, most likely first.

    Returns:
        The shop, and the text of the owner's token, which cannot be read again later.

    Raises:
        UnknownCurrencyError: *currency* is none in use.
        UnknownTimeZoneError: *time_zone* is none.
    """
    minor_units(currency)
    read_time_zone(time_zone)
    if not name.strip() or not languages:
        raise RejectedInputError("A shop needs a name and at least one language")
    shop_id = new_id()
    values = {
        "shop_id": shop_id,
        "name": name,
        "currency": currency,
        "time_zone": time_zone,
        "languages": list(languages),
    }
    async with scope(pool, shop_id) as con:
        shop = await add_shop(con, values)
        _, text = await hand_out_token(con, shop_id, "owner", "owner")
    return shop, text
