"""Matches: what each transaction was found to be for, and the sales made from them."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any, Final
from uuid import UUID

import msgspec

from stallkeep.store.connection import Connection
from stallkeep.store.new_matches import Bulk, NewMatch, Piece, Planned, SaleOf, lay_out, sale_of

__all__ = ["Bulk", "NewMatch", "Piece", "Planned", "SaleOf", "lay_out", "sale_of"]


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
 where shop_id = $1 and id = any(array(
   select l.item_id from unnest($2::uuid[]) as u (id)
    cross join lateral (
      select m.sale_id from match m where m.shop_id = $1 and m.transaction_id = u.id offset 0) m
    cross join lateral (
      select l.item_id from sale_line l where l.shop_id = $1 and l.sale_id = m.sale_id offset 0) l))
 order by id for update
"""
# Set by set: the foreign key would take the lines of each sale by a statement of their own.
_UNSELL: Final = """
delete from sale_line where shop_id = $1 and sale_id = any(array(
  select s.id from unnest($2::uuid[]) as u (id)
   cross join lateral (
     select * from match where shop_id = $1 and transaction_id = u.id offset 0) m
   cross join lateral (
     select * from sale where shop_id = $1 and id = m.sale_id offset 0) s
   where s.origin = 'match' and ($3 or m.decided_by is null)))
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
# Of lines that were an event's once: a sale rung up there is not one entered with its payment.
_RUNG_UP: Final = """
select m.transaction_id from unnest($2::uuid[]) as u (id)
 cross join lateral (
   select * from match where shop_id = $1 and transaction_id = u.id offset 0) m
 cross join lateral (select * from sale where shop_id = $1 and id = m.sale_id offset 0) s
 where m.decided_by is null and s.origin <> 'match'
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
_PIECES_OF_SALES: Final = """
select sale_id, item_id, sum(price_minor)::bigint as price_minor,
       sum(quantity)::integer as quantity
  from sale_line where shop_id = $1 and sale_id = any($2) and item_id is not null
 group by sale_id, item_id order by sale_id, item_id
"""


async def matches_of(
    con: Connection, shop_id: UUID, transaction_ids: Sequence[UUID]
) -> list[StoredMatch]:
    """Read every explanation stored for these transactions, best first."""
    return [StoredMatch(**row) for row in await con.fetch(_OF, shop_id, list(transaction_ids))]


async def pieces_of_sales(
    con: Connection, shop_id: UUID, sale_ids: Sequence[UUID]
) -> dict[UUID, list[Piece]]:
    """Read the pieces of sales and what each brought."""
    found: dict[UUID, list[Piece]] = {sale_id: [] for sale_id in sale_ids}
    for row in await con.fetch(_PIECES_OF_SALES, shop_id, list(sale_ids)):
        piece = Piece(row["item_id"], row["price_minor"], row["quantity"])
        found[row["sale_id"]].append(piece)
    return found


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
    await con.execute(_UNSELL, shop_id, list(transaction_ids), also_decided)
    rows = await con.fetch(_RELEASE, shop_id, list(transaction_ids), also_decided)
    return {row["transaction_id"] for row in rows}


async def release_rung_up(
    con: Connection, shop_id: UUID, transaction_ids: Collection[UUID]
) -> None:
    """Release matches that a run made with sales rung up before."""
    rows = await con.fetch(_RUNG_UP, shop_id, list(transaction_ids))
    if rows:
        await release(con, shop_id, [row["transaction_id"] for row in rows], also_decided=False)


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
) -> None:
    """Store one explanation; with *sale*, sell its pieces too.

    A matched explanation that names a sale rung up before links that sale to the transaction.

    Raises:
        asyncpg.CheckViolationError: A piece is sold already (item_sold_within_quantity).
    """
    await add_matches(con, shop_id, [Planned(new, sale)])


async def add_matches(con: Connection, shop_id: UUID, planned: Sequence[Planned]) -> None:
    """Store many explanations in a few statements, as `add_match` stores one.

    Raises:
        asyncpg.CheckViolationError: A piece is sold already (item_sold_within_quantity).
    """
    await add_laid_out(con, shop_id, lay_out(planned))


async def add_laid_out(con: Connection, shop_id: UUID, laid_out: Sequence[Bulk]) -> None:
    """Store explanations that were laid out, maybe in a thread; raises as `add_matches` does."""
    for bulk in laid_out:
        await con.execute(bulk.statement, shop_id, *bulk.columns)
