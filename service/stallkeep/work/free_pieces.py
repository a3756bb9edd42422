"""Free the pieces that a person's word needs; where another word has one, show the conflict."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from uuid import UUID

from stallkeep.domain.errors import ConflictError, RejectedInputError
from stallkeep.domain.tag_codes import to_text as code_text
from stallkeep.store import matches
from stallkeep.store.connection import Connection, Pool, Row
from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id
from stallkeep.store.shops import Shop
from stallkeep.work.named_pieces import PiecePrice

_CLAIMS: Final = """
select m.transaction_id, m.decided_by from sale_line sl
  join sale s on s.shop_id = sl.shop_id and s.id = sl.sale_id and s.state = 'done'
  join match m on m.shop_id = s.shop_id and m.sale_id = s.id and m.state = 'matched'
 where sl.shop_id = $1 and sl.item_id = $2 and sl.state = 'sold'
"""
_CONFLICT: Final = """
insert into conflict (shop_id, id, kind, item_id, transaction_id, event_id, detail)
select $1, $2, 'second-claim', $3, $4, $5, $6
 where not exists (select from conflict where shop_id = $1 and item_id = $3
                      and transaction_id = $4 and state = 'open')
"""


class TooManyPiecesError(RejectedInputError):
    """More of a piece are named than the shop ever had."""

    code = "too-many-pieces"
    title = "There are not so many"


class PieceSpokenForError(ConflictError):
    """A piece is sold already, and somebody said so."""

    code = "piece-spoken-for"
    title = "The piece is sold to somebody else"


async def free_pieces(con: Connection, shop: Shop, items: Sequence[tuple[Row, PiecePrice]]) -> None:
    """Release engine-made matches that hold a piece this payment needs.

    Raises:
        TooManyPiecesError: There never were so many of a piece.
        PieceSpokenForError: Somebody said before that a piece went to another customer.
    """
    for item, piece in items:
        if piece.quantity > item["quantity"]:
            raise TooManyPiecesError(
                f"{piece.quantity} of {item['title']} ({item['tag_code']}) are named, and the shop "
                f"has {item['quantity']}, those sold included",
                tag_code=item["tag_code"],
            )
        needed = piece.quantity - await _left(con, shop, item["id"])
        claims = await con.fetch(_CLAIMS, shop.shop_id, item["id"]) if needed > 0 else []
        for claim in claims:
            if claim["decided_by"] is not None or needed <= 0:
                continue
            other = claim["transaction_id"]
            await matches.release(con, shop.shop_id, [other], also_decided=False)
            reason = f"Its piece {code_text(item['tag_code'])} was confirmed for another payment"
            await matches.set_state(con, shop.shop_id, other, "unmatched", reason)
            needed = piece.quantity - await _left(con, shop, item["id"])
        if needed > 0:
            raise PieceSpokenForError(
                f"{item['title']} ({item['tag_code']}) is sold to somebody else already",
                tag_code=item["tag_code"],
                item_id=str(item["id"]),
            )


async def _left(con: Connection, shop: Shop, item_id: UUID) -> int:
    left: int = await con.fetchval(
        "select quantity - sold from item where shop_id = $1 and id = $2", shop.shop_id, item_id
    )
    return left


async def show_conflict(
    pool: Pool, shop: Shop, transaction_id: UUID, error: PieceSpokenForError
) -> None:
    """Two people's words about one piece: written down, so that a person sees it."""
    async with scope(pool, shop.shop_id) as con:
        event_id = await con.fetchval(
            "select event_id from transaction where shop_id = $1 and id = $2",
            shop.shop_id,
            transaction_id,
        )
        await con.execute(
            _CONFLICT,
            shop.shop_id,
            new_id(),
            UUID(str(error.facts["item_id"])),
            transaction_id,
            event_id,
            f"Two payments were said to be for it: {error.detail}",
        )
