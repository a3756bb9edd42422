"""People's words about transactions and pieces: kept for ever, withdrawn at most."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Final
from uuid import UUID

import msgspec

from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id


class Ruling(msgspec.Struct, frozen=True, gc=False):
    """What a person said about a transaction."""

    id: UUID
    transaction_id: UUID
    kind: str
    item_ids: list[UUID]
    pieces: int | None
    related_transaction_id: UUID | None
    is_income: bool
    reason: str | None
    said_by: str
    said_at: dt.datetime
    withdrawn_at: dt.datetime | None


class PieceRuling(msgspec.Struct, frozen=True, gc=False):
    """What a person saw of a piece after an event."""

    id: UUID
    event_id: UUID
    item_id: UUID
    still_here: int
    said_by: str
    said_at: dt.datetime


class PieceLook(msgspec.Struct, frozen=True, gc=False):
    """What a person once saw of a piece after an event; the one not withdrawn counts."""

    still_here: int
    said_by: str
    said_at: dt.datetime
    withdrawn_at: dt.datetime | None


_ADD: Final = """
insert into ruling (shop_id, id, transaction_id, kind, item_ids, pieces, related_transaction_id,
                    is_income, reason, said_by)
values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
"""
_STANDING: Final = """
select id, transaction_id, kind, item_ids, pieces, related_transaction_id, is_income, reason,
       said_by, said_at, withdrawn_at
  from ruling where shop_id = $1 and transaction_id = any($2) and withdrawn_at is null
 order by said_at, id
"""
_ALL: Final = """
select id, transaction_id, kind, item_ids, pieces, related_transaction_id, is_income, reason,
       said_by, said_at, withdrawn_at
  from ruling where shop_id = $1 and transaction_id = $2 order by said_at, id
"""
_WITHDRAW: Final = """
update ruling set withdrawn_at = now()
 where shop_id = $1 and transaction_id = $2 and withdrawn_at is null and kind = any($3)
"""
_WITHDRAW_APART: Final = """
update ruling set withdrawn_at = now()
 where shop_id = $1 and kind = 'apart' and withdrawn_at is null
   and (transaction_id = any($2) or related_transaction_id = any($2))
   and (not $3 or (transaction_id = any($2) and related_transaction_id = any($2)))
"""
_ADD_PIECE: Final = """
insert into piece_ruling (shop_id, id, event_id, item_id, still_here, said_by)
values ($1, $2, $3, $4, $5, $6)
"""
_WITHDRAW_PIECE: Final = """
update piece_ruling set withdrawn_at = now()
 where shop_id = $1 and event_id = $2 and item_id = $3 and withdrawn_at is null
"""
_PIECES: Final = """
select id, event_id, item_id, still_here, said_by, said_at from piece_ruling
 where shop_id = $1 and event_id = $2 and withdrawn_at is null order by said_at, id
"""
_LOOKS: Final = """
select still_here, said_by, said_at, withdrawn_at from piece_ruling
 where shop_id = $1 and event_id = $2 and item_id = $3 order by said_at desc, id desc
"""


async def add_ruling(
    con: Connection,
    shop_id: UUID,
    transaction_id: UUID,
    kind: str,
    said_by: str,
    *,
    item_ids: Sequence[UUID] = (),
    pieces: int | None = None,
    related_transaction_id: UUID | None = None,
    is_income: bool = True,
    reason: str | None = None,
) -> None:
    """Write down what somebody said."""
    place = (shop_id, new_id(), transaction_id)
    said = (kind, list(item_ids), pieces, related_transaction_id, is_income, reason, said_by)
    await con.execute(_ADD, *place, *said)


async def standing_rulings(
    con: Connection, shop_id: UUID, transaction_ids: Sequence[UUID]
) -> list[Ruling]:
    """Read the words that stand, oldest first."""
    return [Ruling(*row) for row in await con.fetch(_STANDING, shop_id, list(transaction_ids))]


async def all_rulings(con: Connection, shop_id: UUID, transaction_id: UUID) -> list[Ruling]:
    """Read every word ever said about a transaction, oldest first."""
    return [Ruling(*row) for row in await con.fetch(_ALL, shop_id, transaction_id)]


async def withdraw_rulings(
    con: Connection, shop_id: UUID, transaction_id: UUID, kinds: Sequence[str]
) -> int:
    """Take words of these kinds back; they stay readable. Returns how many."""
    status = await con.execute(_WITHDRAW, shop_id, transaction_id, list(kinds))
    return int(status.rpartition(" ")[2])


async def withdraw_apart(
    con: Connection, shop_id: UUID, transaction_ids: Sequence[UUID], *, among_them: bool
) -> None:
    """Take back that these are other sales: than each other only, or than any payment."""
    await con.execute(_WITHDRAW_APART, shop_id, list(transaction_ids), among_them)


async def rule_on_piece(
    con: Connection,
    shop_id: UUID,
    event_id: UUID,
    item_id: UUID,
    *,
    still_here: int,
    said_by: str,
) -> None:
    """Write down how many of an item somebody saw after an event; a later look counts."""
    await con.execute(_WITHDRAW_PIECE, shop_id, event_id, item_id)
    await con.execute(_ADD_PIECE, shop_id, new_id(), event_id, item_id, still_here, said_by)


async def piece_rulings(con: Connection, shop_id: UUID, event_id: UUID) -> list[PieceRuling]:
    """Read what was seen of the pieces of an event."""
    return [PieceRuling(*row) for row in await con.fetch(_PIECES, shop_id, event_id)]


async def looks_at_piece(
    con: Connection, shop_id: UUID, event_id: UUID, item_id: UUID
) -> list[PieceLook]:
    """Read everything that was ever seen of a piece after an event, the latest first."""
    return [PieceLook(*row) for row in await con.fetch(_LOOKS, shop_id, event_id, item_id)]


async def withdraw_look(con: Connection, shop_id: UUID, event_id: UUID, item_id: UUID) -> None:
    """Take back what was last seen of a piece; it stays readable."""
    await con.execute(_WITHDRAW_PIECE, shop_id, event_id, item_id)
