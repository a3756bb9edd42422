"""A small shop with a stall, an online channel, stock and an event, for tests of the evidence."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Sequence
from typing import Any
from uuid import UUID

import msgspec

from stallkeep.store import imports
from stallkeep.store.connection import Pool
from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id
from stallkeep.store.shops import Shop, find_shop
from stallkeep.work.import_file import ImportOrder, Upload, import_file

FRIDAY = dt.date(2026, 9, 11)


class World(msgspec.Struct):
    """A shop and the ids of what it has; items by tag code."""

    pool: Pool
    shop: Shop
    stall: UUID
    online: UUID
    event: UUID
    items: dict[str, UUID]

    async def take_in(
        self,
        text: str | bytes,
        *,
        channel: UUID | None = None,
        name: str = "file.csv",
        **order: Any,  # noqa: ANN401 - fields of ImportOrder
    ) -> imports.Import:
        """Take a file in; on the stall's channel unless another is named."""
        data = text.encode() if isinstance(text, str) else text
        upload = Upload(io.BytesIO(data), name, len(data))
        said = ImportOrder(channel_id=channel or self.stall, by="owner", **order)
        return await import_file(self.pool, self.shop, upload, said)

    async def rows(self, query: str, *values: object) -> list[dict[str, Any]]:
        """Read rows of this shop; $1 is its id."""
        async with scope(self.pool, self.shop.shop_id) as con:
            found = await con.fetch(query, self.shop.shop_id, *values)
            return [dict(zip(row.keys(), row, strict=True)) for row in found]


PIECES: Sequence[tuple[str, str, int, int]] = (
    ("996AAD", "Navy wool coat", 6800, 2100),
    ("A17AH1", "Grey cardigan with horn buttons", 2400, 900),
    ("WNF7TT", "Waxed work jacket", 3200, 1100),
    ("DE87TR", "Blue stoneware jug", 1500, 400),
    ("GG15K0", "Speckled mixing bowl", 1500, 350),
)


async def make_world(pool: Pool, *, pieces: Sequence[tuple[str, str, int, int]] = PIECES) -> World:
    """Make the shop; every piece is on the rail of a one-day event on `FRIDAY`."""
    shop_id, stall, online, event = (new_id() for _ in range(4))
    async with scope(pool, shop_id) as con:
        await con.execute(
            "insert into shop (shop_id, name, currency, time_zone, languages) "
            "values ($1, 'Woolgather', 'EUR', 'Europe/Berlin', '{en,de}')",
            shop_id,
        )
        for channel, name, kind in ((stall, "Stall", "stall"), (online, "Tidelist", "online")):
            await con.execute(
                "insert into channel (shop_id, id, name, kind) values ($1, $2, $3, $4)",
                shop_id,
                channel,
                name,
                kind,
            )
        await con.execute(
            "insert into event (shop_id, id, channel_id, name, starts_on, ends_on, state) "
            "values ($1, $2, $3, 'Quay market', $4, $4, 'closed')",
            shop_id,
            event,
            stall,
            FRIDAY,
        )
        await con.execute(
            "insert into event_day (shop_id, event_id, day, pitch_fee_minor, opens_at, closes_at) "
            "values ($1, $2, $3, 4000, '10:00', '18:00')",
            shop_id,
            event,
            FRIDAY,
        )
        items = {}
        for code, title, price, cost in pieces:
            items[code] = new_id()
            await con.execute(
                "insert into item (shop_id, id, tag_code, title, price_minor, cost_minor) "
                "values ($1, $2, $3, $4, $5, $6)",
                shop_id,
                items[code],
                code,
                title,
                price,
                cost,
            )
            await con.execute(
                "insert into rail (shop_id, event_id, item_id) values ($1, $2, $3)",
                shop_id,
                event,
                items[code],
            )
        shop = await find_shop(con, shop_id)
    assert shop is not None
    return World(pool, shop, stall, online, event, items)
