"""Matches: what each transaction was found to be for, and the sales made from them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
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


class Planned(msgspec.Struct, frozen=True):
    """An explanation to be stored, and what a sale of its pieces takes over; None sells none."""

    new: NewMatch
    sale: SaleOf | None = None


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
# Documents travel as text: the driver takes a list of lists for an array of two dimensions.
_MATCHES: Final = """
insert into match (shop_id, id, transaction_id, reconciliation_id, state, explanation, rank,
                   probability, reason, evidence, piece_group, sale_id, related_transaction_id,
                   decided_by)
select $1, u.id, u.transaction_id, u.run, u.state, u.explanation, u.rank, u.probability, u.reason,
       u.evidence::jsonb, u.piece_group::jsonb, u.sale_id, u.related, u.decided_by
  from unnest($2::uuid[], $3::uuid[], $4::uuid[], $5::text[], $6::text[], $7::int[], $8::float8[],
              $9::text[], $10::text[], $11::text[], $12::uuid[], $13::uuid[], $14::text[])
       as u (id, transaction_id, run, state, explanation, rank, probability, reason, evidence,
             piece_group, sale_id, related, decided_by)
"""
_MATCH_ITEMS: Final = """
insert into match_item (shop_id, match_id, item_id, quantity, price_minor)
select $1, u.* from unnest($2::uuid[], $3::uuid[], $4::int[], $5::bigint[]) as u
"""
_SALES: Final = """
insert into sale (shop_id, origin, id, channel_id, event_id, method, total_minor, sold_at, sold_on,
                  transaction_id)
select $1, 'match', u.* from unnest($2::uuid[], $3::uuid[], $4::uuid[], $5::text[], $6::bigint[],
                                    $7::timestamptz[], $8::date[], $9::uuid[]) as u
"""
_SALE_LINES: Final = """
insert into sale_line (shop_id, sale_id, line_no, item_id, title, quantity, price_minor, cost_minor)
select $1, u.sale_id, u.line_no, i.id, i.title, u.quantity, u.price_minor, i.cost_minor * u.quantity
  from unnest($2::uuid[], $3::int[], $4::uuid[], $5::int[], $6::bigint[])
       as u (sale_id, line_no, item_id, quantity, price_minor)
  join item i on i.shop_id = $1 and i.id = u.item_id
"""
_LINK_SALES: Final = """
update sale s set transaction_id = u.transaction_id, version = version + 1
  from unnest($2::uuid[], $3::uuid[]) as u (sale_id, transaction_id)
 where s.shop_id = $1 and s.id = u.sale_id
"""
_PIECES_OF_SALES: Final = """
select sale_id, item_id, sum(price_minor)::bigint as price_minor,
       sum(quantity)::integer as quantity
  from sale_line where shop_id = $1 and sale_id = any($2) and item_id is not null
 group by sale_id, item_id order by sale_id, item_id
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
    links = [(p.new.sale_id, p.new.transaction_id) for p in planned if p.new.sale_id is not None]
    await _bulk(con, _LINK_SALES, shop_id, links)
    sales = [_sale_id(p) for p in planned]
    sold = [(p, key) for p, key in zip(planned, sales, strict=True) if key and not p.new.sale_id]
    await _bulk(con, _SALES, shop_id, [_sale_row(p, key) for p, key in sold])
    lines = [
        (key, number, piece.item_id, piece.quantity, piece.price_minor)
        for p, key in sold
        for number, piece in enumerate(p.new.pieces, 1)
    ]
    await _bulk(con, _SALE_LINES, shop_id, lines)
    ids = [new_id() for _ in planned]
    rows = [_match_row(p.new, key, sale) for p, key, sale in zip(planned, ids, sales, strict=True)]
    await _bulk(con, _MATCHES, shop_id, rows)
    pieces = [
        (key, piece.item_id, piece.quantity, piece.price_minor)
        for p, key in zip(planned, ids, strict=True)
        for piece in p.new.pieces
    ]
    await _bulk(con, _MATCH_ITEMS, shop_id, pieces)


async def _bulk(
    con: Connection, statement: str, shop_id: UUID, rows: Sequence[tuple[object, ...]]
) -> None:
    if rows:
        await con.execute(statement, shop_id, *map(list, zip(*rows, strict=True)))


def _sale_id(planned: Planned) -> UUID | None:
    if planned.new.sale_id is not None:
        return planned.new.sale_id
    return new_id() if planned.sale is not None and planned.new.pieces else None


def _sale_row(planned: Planned, sale_id: UUID) -> tuple[object, ...]:
    sale = planned.sale
    assert sale is not None  # noqa: S101 - only what is sold has an id of its own
    place = (sale_id, sale.channel_id, sale.event_id)
    paid = (sale.method, sale.amount_minor, sale.occurred_at, sale.occurred_on)
    return (*place, *paid, planned.new.transaction_id)


def _match_row(new: NewMatch, match_id: UUID, sale_id: UUID | None) -> tuple[object, ...]:
    return (
        match_id,
        new.transaction_id,
        new.reconciliation_id,
        new.state,
        new.explanation,
        new.rank,
        new.probability,
        new.reason,
        _as_text(list(new.evidence)),
        None if new.piece_group is None else _as_text(new.piece_group),
        sale_id,
        new.related_transaction_id,
        new.decided_by,
    )


def _as_text(document: object) -> str:
    return msgspec.json.encode(document).decode()
