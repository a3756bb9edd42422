"""Open a shop, and hand out its first token."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from stallkeep.domain.errors import RejectedInputError
from stallkeep.domain.money import minor_units
from stallkeep.store.connection import Pool
from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id
from stallkeep.store.shops import Shop, add_shop
from stallkeep.work.hand_out_token import hand_out_token
from stallkeep.work.time_zones import read_time_zone

LONGEST_NAME: Final = 300
_LANGUAGE: Final = re.compile("[a-z]{2}")


async def open_shop(
    pool: Pool, name: str, currency: str, time_zone: str, languages: Sequence[str] = ("en",)
) -> tuple[Shop, str]:
    """Make a shop and its owner's token.

    Args:
        pool: Where to make it.
        name: For people; one line of `LONGEST_NAME` characters at most.
        currency: ISO 4217 code; every amount of the shop is in it.
        time_zone: IANA name.
        languages: ISO 639-1 codes, most likely first.

    Returns:
        The shop, and the text of the owner's token, which cannot be read again later.

    Raises:
        UnknownCurrencyError: *currency* is none in use.
        UnknownTimeZoneError: *time_zone* is none.
        RejectedInputError: The name or a language is not as said.
    """
    minor_units(currency)
    read_time_zone(time_zone)
    if not name.strip() or not name.isprintable() or len(name) > LONGEST_NAME:
        raise RejectedInputError(f"A shop needs a name, in one line of {LONGEST_NAME} at most")
    if not languages or not all(map(_LANGUAGE.fullmatch, languages)):
        raise RejectedInputError("A shop needs languages, by codes of two small letters such as en")
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
