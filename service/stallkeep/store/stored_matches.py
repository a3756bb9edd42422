"""What stands of earlier runs, compared with what a new one plans.

Each row is looked up by its id: "lateral" and "offset 0" leave the planner no other way, whatever
the statistics say or lack.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import Any, Final, TypeAlias
from uuid import UUID

import msgspec

from stallkeep.store.connection import Connection, Row
from stallkeep.store.matches import Planned

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


Stored: TypeAlias = Mapping[UUID, Sequence[tuple[Any, ...]]]
"""Transaction → the runs' matches of it, each with its pieces and the sale made of it."""


class Changes(msgspec.Struct, frozen=True):
    """What a plan makes of the matches that stand.

    Attributes:
        dropped: Transactions whose matches go.
        missing: Matches to be stored.
    """

    dropped: Sequence[UUID]
    missing: Sequence[Planned]


def changes(stored: Stored, planned: Mapping[UUID, Sequence[Planned]]) -> Changes:
    """Compare what stands of the runs' matches with all that is to stand of them."""
    kept = {key for key, own in stored.items() if own == [*map(_as_stored, planned.get(key, ()))]}
    return Changes(
        [key for key in stored if key not in kept],
        [p for key, own in planned.items() if key not in kept for p in own],
    )


async def stored_matches(
    con: Connection, shop_id: UUID, transaction_ids: Collection[UUID]
) -> dict[UUID, list[tuple[Any, ...]]]:
    """Read the runs' matches of these; what a person decided is left out."""
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
