"""Take a match that a run made for a person's word, without choosing its pieces anew."""

from __future__ import annotations

from typing import Final
from uuid import UUID

from stallkeep.store import rulings
from stallkeep.store.connection import Connection

_DECIDE: Final = """
update match set decided_by = $3, reason = $4
 where shop_id = $1 and transaction_id = $2 and state = 'matched' and decided_by is null
returning id
"""
_PIECES: Final = """
select mi.item_id, mi.quantity from match_item mi
 where mi.shop_id = $1 and mi.match_id = $2 order by mi.item_id
"""


async def keep_match(con: Connection, shop_id: UUID, transaction_id: UUID, by: str) -> None:
    """Note that a person relies on what a transaction is matched to; a word already said stays."""
    match_id = await con.fetchval(_DECIDE, shop_id, transaction_id, by, f"{by} said so")
    if match_id is None:
        return
    rows = await con.fetch(_PIECES, shop_id, match_id)
    items = [row["item_id"] for row in rows for _ in range(row["quantity"])]
    await rulings.add_ruling(con, shop_id, transaction_id, "confirmed", by, item_ids=items)
