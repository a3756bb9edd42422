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
# Each is looked up by its id: "lateral" and "offset 0" leave the planner no other way.
_LEFT: Final = """
select u.id, i.quantity - i.sold as left_over from unnest($2::uuid[]) as u (id)
 cross join lateral (select * from item where shop_id = $1 and id = u.id offset 0) i
"""


async def hold_items(con: Connection, shop_id: UUID, item_ids: Collection[UUID]) -> None:
    """Hold pieces until the transaction ends, always in the order of their ids."""
    await con.execute(_HOLD, shop_id, sorted(item_ids))


async def left_of(con: Connection, shop_id: UUID, item_ids: Collection[UUID]) -> dict[UUID, int]:
    """Read how many of each piece are not sold."""
    rows = await con.fetch(_LEFT, shop_id, list(item_ids))
    return {row["id"]: row["left_over"] for row in rows}
