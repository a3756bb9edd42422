"""What stands of earlier runs, compared with what a new one plans.

Each row is looked up by its id: "lateral" and "offset 0" leave the planner no other way, whatever
the statistics say or lack.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import Any, Final
from uuid import UUID

from stallkeep.store.connection import Connection, Row
from stallkeep.store.matches import Planned, release

_STORED: Final = """
select m.id, m.transaction_id, m.state, m.explanation, m.rank, m.probability, m.reason, m.evidence,
       m.piece_group, m.related_transaction_id, m.sale_id, s.channel_id, s.event_id, s.method,
       s.total_minor, s.sold_at, s.sold_on
  from unnest($2::uuid[]) as u (id)
 cross join lateral (
   select * from match where shop_id = $1 and transaction_id = u.id offset 0) m
  left join lateral (select * from sale where shop_id = $1 and id = m.sale_id offset 0) s on true
 where m.decided_by is null
 order by m.transaction_id, m.rank, m.id
"""
_PIECES: Final = """
select u.id as match_id, i.item_id, i.quantity, i.price_minor from unnest($2::uuid[]) as u (id)
 cross join lateral (
   select * from match_item where shop_id = $1 and match_id = u.id order by item_id offset 0) i
"""
_FREED: Final = """
select l.item_id, sum(l.quantity)::int as pieces
  from unnest($2::uuid[]) as u (id)
 cross join lateral (
   select * from match where shop_id = $1 and transaction_id = u.id offset 0) m
 cross join lateral (select * from sale where shop_id = $1 and id = m.sale_id offset 0) s
 cross join lateral (select * from sale_line where shop_id = $1 and sale_id = s.id offset 0) l
 where m.decided_by is null and s.origin = 'match' and l.state = 'sold' and l.item_id is not null
 group by l.item_id
"""
_MATCHED: Final = """
select m.transaction_id, i.item_id, i.quantity
  from unnest($2::uuid[]) as u (id)
 cross join lateral (
   select * from match where shop_id = $1 and transaction_id = u.id and state = 'matched'
   offset 0) m
 cross join lateral (
   select * from match_item where shop_id = $1 and match_id = m.id offset 0) i
 order by m.transaction_id, i.item_id
"""


async def freed_by(
    con: Connection, shop_id: UUID, transaction_ids: Collection[UUID]
) -> dict[UUID, int]:
    """Count the pieces that would be in stock again were the runs' matches of these released."""
    rows = await con.fetch(_FREED, shop_id, list(transaction_ids))
    return {row["item_id"]: row["pieces"] for row in rows}


async def pieces_matched(
    con: Connection, shop_id: UUID, transaction_ids: Collection[UUID]
) -> dict[str, list[str]]:
    """Read the pieces that these are matched to, an id once per piece."""
    found: dict[str, list[str]] = defaultdict(list)
    for row in await con.fetch(_MATCHED, shop_id, list(transaction_ids)):
        found[str(row["transaction_id"])] += [str(row["item_id"])] * row["quantity"]
    return found


async def drop_other_matches(
    con: Connection,
    shop_id: UUID,
    transaction_ids: Collection[UUID],
    planned: Mapping[UUID, Sequence[Planned]],
) -> list[Planned]:
    """Release the runs' matches of transactions where they are not just what is planned.

    What a person decided stays.

    Returns:
        What of the plan does not stand yet.
    """
    stored = await _stored(con, shop_id, transaction_ids)
    wanted = {key: [_as_stored(p) for p in own] for key, own in planned.items() if own}
    other = [key for key in stored if stored[key] != wanted.get(key)]
    if other:
        await release(con, shop_id, other, also_decided=False)
    return [p for key, own in planned.items() if stored.get(key) != wanted.get(key) for p in own]


async def _stored(
    con: Connection, shop_id: UUID, transaction_ids: Collection[UUID]
) -> dict[UUID, list[tuple[Any, ...]]]:
    rows = await con.fetch(_STORED, shop_id, list(transaction_ids))
    pieces: dict[UUID, list[tuple[Any, ...]]] = defaultdict(list)
    for row in await con.fetch(_PIECES, shop_id, [row["id"] for row in rows]):
        pieces[row["match_id"]].append((row["item_id"], row["quantity"], row["price_minor"]))
    found: dict[UUID, list[tuple[Any, ...]]] = defaultdict(list)
    for row in rows:
        found[row["transaction_id"]].append(_as_planned(row, pieces[row["id"]]))
    return found


_SAID: Final = ("state", "explanation", "rank", "probability", "reason")
_SOLD: Final = ("channel_id", "event_id", "method", "total_minor", "sold_at", "sold_on")


def _as_planned(row: Row, pieces: Sequence[tuple[Any, ...]]) -> tuple[Any, ...]:
    said = tuple(row[name] for name in _SAID)
    sold = tuple(row[name] for name in _SOLD) if row["sale_id"] else None
    rest = (row["evidence"], row["piece_group"], row["related_transaction_id"])
    return (*said, *rest, sorted(pieces), sold)


def _as_stored(planned: Planned) -> tuple[Any, ...]:
    new, sale = planned.new, planned.sale
    said = tuple(getattr(new, name) for name in _SAID)
    rest = (list(new.evidence), new.piece_group, new.related_transaction_id)
    pieces = sorted((p.item_id, p.quantity, p.price_minor) for p in new.pieces)
    sold = None
    if sale is not None and new.pieces:
        place = (sale.channel_id, sale.event_id, sale.method)
        sold = (*place, sale.amount_minor, sale.occurred_at, sale.occurred_on)
    return (*said, *rest, pieces, sold)
