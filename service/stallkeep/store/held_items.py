"""Pieces that a run holds, so that no stall sale takes one meanwhile."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final
from uuid import UUID

from stallkeep.store.connection import Connection

# Counted, so that not every one of a million travels here.
_HOLD: Final = """
select count(*) from (
  select from item where shop_id = $1 and id = any($2) order by id for update) held
"""


async def hold_items(con: Connection, shop_id: UUID, item_ids: Collection[UUID]) -> None:
    """Hold pieces until the transaction ends, always in the order of their ids."""
    await con.execute(_HOLD, shop_id, sorted(item_ids))
