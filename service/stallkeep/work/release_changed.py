"""A payment that came back with another amount: what was made of it no longer holds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from uuid import UUID

from stallkeep.domain.money import to_text
from stallkeep.store.connection import Connection, Row
from stallkeep.store.ids import new_id
from stallkeep.store.matches import release, set_states

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
select $1, u.id, 'changed-after-decision', u.transaction_id, u.event_id, u.detail
  from unnest($2::uuid[], $3::uuid[], $4::uuid[], $5::text[])
       as u (id, transaction_id, event_id, detail)
"""


async def release_changed(con: Connection, shop_id: UUID, changed: Sequence[UUID]) -> None:
    """Release what was worked out for rows whose amount has changed.

    What a person decided stays, and the contradiction is shown as a conflict.
    """
    if not changed:
        return
    rows = await con.fetch(_OTHER_AMOUNT, shop_id, list(changed))
    decided = [
        (new_id(), row["id"], row["event_id"], _detail(row)) for row in rows if row["decided"]
    ]
    if decided:
        await con.execute(_CONFLICT, shop_id, *map(list, zip(*decided, strict=True)))
    opened = [row["id"] for row in rows if not row["decided"]]
    if opened:
        await release(con, shop_id, opened, also_decided=False)
        said = [(key, "unmatched", "Its amount has changed") for key in opened]
        await set_states(con, shop_id, said)


def _detail(row: Row) -> str:
    before, after = (to_text(row[name], row["currency"]) for name in ("before", "after"))
    return (
        f"A payment that you matched by hand has changed from {before} to {after} "
        f"{row['currency']}. Look whether it still fits."
    )
