"""Turn the findings that a person has to settle into conflicts, once each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final
from uuid import UUID

from stallkeep.domain.matching import Finding
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id

LIKELY: Final = 0.5
SURE: Final = 1.0

CONFLICTS: Final[Mapping[str, float]] = {
    "probably-sold-twice": LIKELY,
    "confirmed-but-still-here": SURE,
    "confirmed-beyond-quantity": SURE,
    "number-and-pieces-disagree": SURE,
    "rulings-contradict": SURE,
}
"""Code of a finding → from which probability on it is a conflict, of that kind."""

_TOLD: Final = """
from unnest($3::text[], $4::uuid[], $5::uuid[], $6::text[], $7::uuid[])
     as u (kind, item_id, transaction_id, detail, id)
"""
# One that a person has settled is not shown again, unless it says something else.
_ADD: Final = f"""
insert into conflict (shop_id, id, kind, item_id, transaction_id, event_id, detail)
select $1, u.id, u.kind, u.item_id, u.transaction_id, $2, u.detail
{_TOLD}
 where not exists (
   select from conflict c
    where c.shop_id = $1 and c.kind = u.kind and c.item_id is not distinct from u.item_id
      and c.transaction_id is not distinct from u.transaction_id
      and (c.state = 'open' or c.detail = u.detail))
"""  # noqa: S608 - nothing from outside
_DROP: Final = f"""
delete from conflict c
 where c.shop_id = $1 and c.event_id = $2 and c.state = 'open' and c.kind = any($8)
   and not exists (
     select {_TOLD}
      where c.kind = u.kind and c.item_id is not distinct from u.item_id
        and c.transaction_id is not distinct from u.transaction_id)
"""  # noqa: S608 - likewise


async def show_contradictions(
    con: Connection, shop_id: UUID, event_id: UUID | None, findings: Iterable[Finding]
) -> None:
    """Write conflicts of what a run found; of an event, take back those it finds no more."""
    told: dict[tuple[str, UUID | None, UUID | None], str] = {}
    for finding in findings:
        if finding.probability >= CONFLICTS.get(finding.code, 2.0):
            item, line = _first(finding.item_ids), _first(finding.transaction_ids)
            told.setdefault((finding.code, item, line), finding.sentence)
    columns: list[list[object]] = [
        [key[0] for key in told],
        [key[1] for key in told],
        [key[2] for key in told],
        list(told.values()),
        [new_id() for _ in told],
    ]
    if event_id is not None:
        await con.execute(_DROP, shop_id, event_id, *columns, list(CONFLICTS))
    if told:
        await con.execute(_ADD, shop_id, event_id, *columns)


def _first(ids: Iterable[str]) -> UUID | None:
    return next((UUID(one) for one in ids), None)
