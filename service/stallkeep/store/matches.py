"""Matches: what each transaction was found to be for, and the sales made from them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any, Final
from uuid import UUID

import msgspec

from stallkeep.store.connection import Connection, Row
from stallkeep.store.ids import new_id


class Piece(msgspec.Struct, frozen=True, gc=False):
    """One item of a match and what it brought, minor units."""

    item_id: UUID
    price_minor: int
    quantity: int = 1


class StoredMatch(msgspec.Struct, frozen=True, gc=False):
    """One explanation of a transaction, as stored.

    `pieces` holds item_id, tag_code, title, quantity and price_minor of each item.
    """

    id: UUID
    transaction_id: UUID
    state: str
    explanation: str
    rank: int
    probability: float
    reason: str
    evidence: list[dict[str, Any]]
    piece_group: dict[str, Any] | None
    sale_id: UUID | None
    related_transaction_id: UUID | None
    decided_by: str | None
    pieces: list[dict[str, Any]]


class NewMatch(msgspec.Struct, frozen=True, kw_only=True):
    """One explanation to be stored. A matched one with pieces makes a sale of them."""

    transaction_id: UUID
    state: str
    explanation: str = "pieces"
    rank: int = 1
    probability: float
    reason: str
    evidence: Sequence[dict[str, Any]] = ()
    piece_group: dict[str, Any] | None = None
    related_transaction_id: UUID | None = None
    decided_by: str | None = None
    reconciliation_id: UUID | None = None
    sale_id: UUID | None = None
    pieces: Sequence[Piece] = ()


class SaleOf(msgspec.Struct, frozen=True, kw_only=True):
    """What a sale made from a match takes over from its transaction."""

    channel_id: UUID
    event_id: UUID | None
    method: str | None
    amount_minor: int
    occurred_at: dt.datetime | None
    occurred_on: dt.date


_OF: Final = """
select m.id, m.transaction_id, m.state, m.explanation, m.rank, m.probability, m.reason,
       m.evidence, m.piece_group, m.sale_id, m.related_transaction_id, m.decided_by,
       coalesce((select jsonb_agg(jsonb_build_object(
                   'item_id', mi.item_id, 'tag_code', i.tag_code, 'title', i.title,
                   'quantity', mi.quantity, 'price_minor', mi.price_minor) order by i.tag_code)
                   from match_item mi join item i on i.shop_id = mi.shop_id and i.id = mi.item_id
                  where mi.shop_id = m.shop_id and mi.match_id = m.id), '[]') as pieces
  from match m where m.shop_id = $1 and m.transaction_id = any($2)
 order by m.transaction_id, m.rank, m.id
"""
# Always the items before their sales: a change of any sale may change what others of its item cost.
_LOCK_ITEMS: Final = """
select from item
 where shop_id = $1 and id in (
   select l.item_id from sale s join sale_line l on l.shop_id = s.shop_id and l.sale_id = s.id
    where s.shop_id = $1 and s.transaction_id = any($2))
 order by id for update
"""
# Only sales that were made from a match go with it; a ring-up stays and loses its payment.
_RELEASE: Final = """
with gone as (
  delete from match m where m.shop_id = $1 and m.transaction_id = any($2)
     and ($3 or m.decided_by is null)
  returning m.sale_id, m.transaction_id
), unlinked as (
  update sale s set transaction_id = null, version = version + 1 from gone g
   where s.shop_id = $1 and s.id = g.sale_id and s.origin <> 'match'
     and not exists (
       select from transaction t where t.shop_id = $1 and t.id = s.transaction_id
          and t.import_id is null)
), removed as (
  delete from sale s using gone g
   where s.shop_id = $1 and s.id = g.sale_id and s.origin = 'match'
)
select distinct transaction_id from gone
"""
_STATE: Final = """
update transaction set match_state = $3, match_reason = $4
 where shop_id = $1 and id = $2 and (match_state, match_reason) is distinct from ($3, $4)
"""
_STATES: Final = """
update transaction t set match_state = said.state, match_reason = said.reason
  from unnest($2::uuid[], $3::text[], $4::text[]) as said (id, state, reason)
 where t.shop_id = $1 and t.id = said.id
   and (t.match_state, t.match_reason) is distinct from (said.state, said.reason)
"""
_MATCH: Final = """
insert into match (shop_id, id, transaction_id, reconciliation_id, state, explanation, rank,
                   probability, reason, evidence, piece_group, sale_id, related_transaction_id,
                   decided_by)
values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)
"""
_MATCH_ITEM: Final = """
insert into match_item (shop_id, match_id, item_id, quantity, price_minor)
values ($1, $2, $3, $4, $5)
"""
_SALE: Final = """
insert into sale (shop_id, id, channel_id, event_id, origin, method, total_minor, sold_at, sold_on,
                  transaction_id)
values ($1, $2, $3, $4, 'match', $5, $6, $7, $8, $9)
"""
_SALE_LINE: Final = """
insert into sale_line (shop_id, sale_id, line_no, item_id, title, quantity, price_minor, cost_minor)
select $1, $2, $3, i.id, i.title, $5::integer, $6::bigint, i.cost_minor * $5::integer
  from item i where i.shop_id = $1 and i.id = $4
"""
_PIECES_OF_SALE: Final = """
select item_id, sum(price_minor)::bigint as price_minor, sum(quantity)::integer as quantity
  from sale_line where shop_id = $1 and sale_id = $2 and item_id is not null
 group by item_id order by item_id
"""
_LINK_SALE: Final = """
update sale set transaction_id = $3, version = version + 1 where shop_id = $1 and id = $2
"""


def sale_of(row: Row) -> SaleOf:
    """Take from a transaction's row what a sale made of it needs."""
    return SaleOf(
        channel_id=row["channel_id"],
        event_id=row["event_id"],
        method=row["method"],
        amount_minor=row["amount_minor"],
        occurred_at=row["occurred_at"],
        occurred_on=row["occurred_on"],
    )


async def matches_of(
    con: Connection, shop_id: UUID, transaction_ids: Sequence[UUID]
) -> list[StoredMatch]:
    """Read every explanation stored for these transactions, best first."""
    return [StoredMatch(**row) for row in await con.fetch(_OF, shop_id, list(transaction_ids))]


async def pieces_of_sale(con: Connection, shop_id: UUID, sale_id: UUID) -> list[Piece]:
    """Read the pieces of a sale and what each brought."""
    rows = await con.fetch(_PIECES_OF_SALE, shop_id, sale_id)
    return [Piece(row["item_id"], row["price_minor"], row["quantity"]) for row in rows]


async def release(
    con: Connection, shop_id: UUID, transaction_ids: Sequence[UUID], *, also_decided: bool
) -> set[UUID]:
    """Remove explanations and the sales made from them; the pieces are in stock again.

    Args:
        con: In the shop's scope.
        shop_id: The shop.
        transaction_ids: Whose explanations.
        also_decided: False leaves what a person decided.

    Returns:
        The transactions that lost one.
    """
    await con.execute(_LOCK_ITEMS, shop_id, list(transaction_ids))
    rows = await con.fetch(_RELEASE, shop_id, list(transaction_ids), also_decided)
    return {row["transaction_id"] for row in rows}


async def set_state(
    con: Connection, shop_id: UUID, transaction_id: UUID, state: str, reason: str | None
) -> None:
    """Set what is said about a transaction as a whole."""
    await con.execute(_STATE, shop_id, transaction_id, state, reason)


async def set_states(
    con: Connection, shop_id: UUID, said: Sequence[tuple[UUID, str, str | None]]
) -> None:
    """The same for many transactions: id, state and reason of each."""
    if said:
        ids, states, reasons = zip(*said, strict=True)
        await con.execute(_STATES, shop_id, ids, states, reasons)


async def add_match(
    con: Connection, shop_id: UUID, new: NewMatch, sale: SaleOf | None = None
) -> UUID:
    """Store one explanation; with *sale*, sell its pieces too.

    A matched explanation that names a sale rung up before links that sale to the transaction.

    Raises:
        asyncpg.CheckViolationError: A piece is sold already (item_sold_within_quantity).
    """
    sale_id = new.sale_id
    if sale_id is not None:
        await con.execute(_LINK_SALE, shop_id, sale_id, new.transaction_id)
    elif sale is not None and new.pieces:
        sale_id = await _sell(con, shop_id, new, sale)
    match_id = new_id()
    await con.execute(
        _MATCH,
        shop_id,
        match_id,
        new.transaction_id,
        new.reconciliation_id,
        new.state,
        new.explanation,
        new.rank,
        new.probability,
        new.reason,
        list(new.evidence),
        new.piece_group,
        sale_id,
        new.related_transaction_id,
        new.decided_by,
    )
    rows = [(shop_id, match_id, p.item_id, p.quantity, p.price_minor) for p in new.pieces]
    await con.executemany(_MATCH_ITEM, rows)
    return match_id


async def _sell(con: Connection, shop_id: UUID, new: NewMatch, sale: SaleOf) -> UUID:
    sale_id = new_id()
    await con.execute(
        _SALE,
        shop_id,
        sale_id,
        sale.channel_id,
        sale.event_id,
        sale.method,
        sale.amount_minor,
        sale.occurred_at,
        sale.occurred_on,
        new.transaction_id,
    )
    lines = [
        (shop_id, sale_id, number, p.item_id, p.quantity, p.price_minor)
        for number, p in enumerate(new.pieces, 1)
    ]
    await con.executemany(_SALE_LINE, lines)
    return sale_id
