"""Matches to be stored, and how thousands of them are laid out for a few statements."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any, Final, TypeAlias
from uuid import UUID

import msgspec

from stallkeep.store.array_text import array_text
from stallkeep.store.connection import Row
from stallkeep.store.ids import new_id_texts

Id: TypeAlias = UUID | str
Cells: TypeAlias = tuple[object, ...]


class Piece(msgspec.Struct, frozen=True, gc=False):
    """One item of a match and what it brought, minor units."""

    item_id: UUID
    price_minor: int
    quantity: int = 1


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


# Arrays travel as text: the driver would look at each value twice, and in the event loop.
_MATCHES: Final = """
insert into match (shop_id, id, transaction_id, reconciliation_id, state, explanation, rank,
                   probability, reason, evidence, piece_group, sale_id, related_transaction_id,
                   decided_by)
select $1, u.id, u.transaction_id, u.run, u.state, u.explanation, u.rank, u.probability, u.reason,
       u.evidence::jsonb, u.piece_group::jsonb, u.sale_id, u.related, u.decided_by
  from unnest($2::text::uuid[], $3::text::uuid[], $4::text::uuid[], $5::text::text[],
              $6::text::text[], $7::text::int[], $8::text::float8[], $9::text::text[],
              $10::text::text[], $11::text::text[], $12::text::uuid[], $13::text::uuid[],
              $14::text::text[])
       as u (id, transaction_id, run, state, explanation, rank, probability, reason, evidence,
             piece_group, sale_id, related, decided_by)
"""
_MATCH_ITEMS: Final = """
insert into match_item (shop_id, match_id, item_id, quantity, price_minor)
select $1, u.*
  from unnest($2::text::uuid[], $3::text::uuid[], $4::text::int[], $5::text::bigint[]) as u
"""
_SALES: Final = """
insert into sale (shop_id, origin, id, channel_id, event_id, method, total_minor, sold_at, sold_on,
                  transaction_id)
select $1, 'match', u.*
  from unnest($2::text::uuid[], $3::text::uuid[], $4::text::uuid[], $5::text::text[],
              $6::text::bigint[], $7::text::timestamptz[], $8::text::date[], $9::text::uuid[]) as u
"""
_SALE_LINES: Final = """
insert into sale_line (shop_id, sale_id, line_no, item_id, title, quantity, price_minor, cost_minor)
select $1, u.sale_id, u.line_no, i.id, i.title, u.quantity, u.price_minor, i.cost_minor * u.quantity
  from unnest($2::text::uuid[], $3::text::int[], $4::text::uuid[], $5::text::int[],
              $6::text::bigint[])
       as u (sale_id, line_no, item_id, quantity, price_minor)
  join item i on i.shop_id = $1 and i.id = u.item_id
"""
_LINK_SALES: Final = """
update sale s set transaction_id = u.transaction_id, version = version + 1
  from unnest($2::text::uuid[], $3::text::uuid[]) as u (sale_id, transaction_id)
 where s.shop_id = $1 and s.id = u.sale_id
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


class Bulk(msgspec.Struct, frozen=True):
    """A statement about many rows, with their columns as PostgreSQL writes arrays."""

    statement: str
    columns: list[str]


def lay_out(planned: Sequence[Planned]) -> list[Bulk]:
    """Lay explanations out for the statements that store them, in their order."""
    sales = _sale_ids(planned)
    sold = [(p, key) for p, key in zip(planned, sales, strict=True) if key and not p.new.sale_id]
    ids = new_id_texts(len(planned))
    keyed = list(zip(planned, ids, sales, strict=True))
    return [
        Bulk(statement, [array_text(column) for column in zip(*rows, strict=True)])
        for statement, rows in (
            (_LINK_SALES, _links(planned)),
            (_SALES, [_sale_row(p, key) for p, key in sold]),
            (_SALE_LINES, [row for p, key in sold for row in _sale_lines(p.new, key)]),
            (_MATCHES, [_match_row(p.new, key, sale) for p, key, sale in keyed]),
            (_MATCH_ITEMS, [row for p, key, _ in keyed for row in _items(p.new, key)]),
        )
        if rows
    ]


def _sale_ids(planned: Sequence[Planned]) -> list[Id | None]:
    """The sale of each: one rung up before, or one that is made of it."""
    made = iter(new_id_texts(sum(map(_sells, planned))))
    return [p.new.sale_id or (next(made) if _sells(p) else None) for p in planned]


def _sells(planned: Planned) -> bool:
    return planned.new.sale_id is None and planned.sale is not None and bool(planned.new.pieces)


def _links(planned: Sequence[Planned]) -> list[Cells]:
    return [(p.new.sale_id, p.new.transaction_id) for p in planned if p.new.sale_id is not None]


def _sale_lines(new: NewMatch, sale_id: Id) -> list[Cells]:
    return [
        (sale_id, number, piece.item_id, piece.quantity, piece.price_minor)
        for number, piece in enumerate(new.pieces, 1)
    ]


def _items(new: NewMatch, match_id: Id) -> list[Cells]:
    return [(match_id, piece.item_id, piece.quantity, piece.price_minor) for piece in new.pieces]


def _sale_row(planned: Planned, sale_id: Id) -> Cells:
    sale = planned.sale
    assert sale is not None  # noqa: S101 - only what is sold has an id of its own
    place = (sale_id, sale.channel_id, sale.event_id)
    paid = (sale.method, sale.amount_minor, sale.occurred_at, sale.occurred_on)
    return (*place, *paid, planned.new.transaction_id)


def _match_row(new: NewMatch, match_id: Id, sale_id: Id | None) -> Cells:
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
