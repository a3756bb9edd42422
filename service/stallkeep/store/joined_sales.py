"""Sales paid in parts: one payment has the sale, the others are parts of it by a person's word."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from uuid import UUID

from stallkeep.store import matches, rulings
from stallkeep.store.connection import Connection

JOINING: Final = ("confirmed", "part_of_sale")

_TOGETHER: Final = """
with part as (
  select r.transaction_id, r.related_transaction_id
    from ruling r join transaction t on t.shop_id = r.shop_id and t.id = r.transaction_id
   where r.shop_id = $1 and r.kind = 'part_of_sale' and r.withdrawn_at is null
     and t.kind <> 'refund'
), holder as (
  select related_transaction_id as id from part where transaction_id = any($2)
  union select related_transaction_id from part where related_transaction_id = any($2)
)
select id from holder
union select transaction_id from part join holder on holder.id = part.related_transaction_id
"""
_REFUNDS: Final = """
select r.transaction_id as id
  from ruling r join transaction t on t.shop_id = r.shop_id and t.id = r.transaction_id
 where r.shop_id = $1 and r.kind = 'part_of_sale' and r.withdrawn_at is null
   and r.related_transaction_id = any($2) and t.kind = 'refund'
 order by r.transaction_id
"""


async def paid_together(
    con: Connection, shop_id: UUID, transaction_ids: Sequence[UUID]
) -> list[UUID]:
    """Find all payments of the joined sales that any of these belongs to, these included."""
    rows = await con.fetch(_TOGETHER, shop_id, list(transaction_ids))
    return sorted(row["id"] for row in rows)


async def part_company(
    con: Connection, shop_id: UUID, transaction_ids: Sequence[UUID], reason: str
) -> list[UUID]:
    """Undo the joined sales these belong to: every other payment of them is open again.

    So are refunds of which somebody said that they give one of these payments back. What is to
    become of *transaction_ids* themselves is the caller's.

    Returns:
        The other payments and refunds.
    """
    together = await paid_together(con, shop_id, transaction_ids)
    refunds = await con.fetch(_REFUNDS, shop_id, [*transaction_ids, *together])
    opened = [*together, *(row["id"] for row in refunds)]
    others = [other for other in opened if other not in set(transaction_ids)]
    await matches.release(con, shop_id, others, also_decided=True)
    for other in others:
        await rulings.withdraw_rulings(con, shop_id, other, JOINING)
        await matches.set_state(con, shop_id, other, "unmatched", reason)
    return others
