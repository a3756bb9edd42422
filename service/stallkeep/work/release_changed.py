"""A payment that came back with another amount: what was made of it no longer holds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from uuid import UUID

from stallkeep.domain.money import to_text
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.store.matches import release, set_state

_OTHER_AMOUNT: Final = """
select t.id, t.event_id, v.amount_minor as before, t.amount_minor as after, t.currency,
       exists (select from match m where m.shop_id = $1 and m.transaction_id = t.id
                  and m.decided_by is not null) as decided
  from transaction t
  join transaction_version v on v.shop_id = t.shop_id and v.transaction_id = t.id
   and v.version = t.version - 1
 where t.shop_id = $1 and t.id = any($2) and t.match_state in ('matched', 'proposed')
   and (t.kind, t.amount_minor, t.currency) is distinct from (v.kind, v.amount_minor, v.currency)
"""
_CONFLICT: Final = """
insert into conflict (shop_id, id, kind, transaction_id, event_id, detail)
values ($1, $2, 'changed-after-decision', $3, $4, $5)
"""


async def release_changed(con: Connection, shop_id: UUID, changed: Sequence[UUID]) -> None:
    """Release what was worked out for rows whose amount has changed.

    What a person decided stays, and the contradiction is shown as a conflict.
    """
    if not changed:
        return
    for row in await con.fetch(_OTHER_AMOUNT, shop_id, list(changed)):
        if row["decided"]:
            detail = (
                "A payment that you matched by hand has changed from "
                f"{to_text(row['before'], row['currency'])} to "
                f"{to_text(row['after'], row['currency'])} {row['currency']}. "
                "Look whether it still fits."
            )
            await con.execute(_CONFLICT, shop_id, new_id(), row["id"], row["event_id"], detail)
            continue
        await release(con, shop_id, [row["id"]], also_decided=False)
        await set_state(con, shop_id, row["id"], "unmatched", "Its amount has changed")
