"""Pieces that a person names: by tag code or id, with prices and in number."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from uuid import UUID

import msgspec

from stallkeep.domain.errors import RejectedInputError
from stallkeep.store.connection import Connection, Row
from stallkeep.store.shops import Shop
from stallkeep.work.take_listings import stored_code

_ITEMS: Final = """
select id, tag_code, title, price_minor, quantity, quantity - sold as left_over from item
 where shop_id = $1 and (tag_code = any($2) or id = any($3)) order by id for update
"""


class CodeNotInStockError(RejectedInputError):
    """A tag code is none of the stock's."""

    code = "code-not-in-stock"
    title = "No piece has this code"


class PiecePrice(msgspec.Struct, frozen=True, kw_only=True):
    """A piece a payment was for; without a price its share is worked out."""

    tag_code: str | None = None
    item_id: UUID | None = None
    price_minor: int | None = None
    quantity: int = 1


async def find_items(
    con: Connection, shop: Shop, pieces: Sequence[PiecePrice]
) -> list[tuple[Row, PiecePrice]]:
    """Lock the items that pieces name, in the order they are named."""
    codes = [stored_code(p.tag_code) for p in pieces if p.tag_code]
    ids = [p.item_id for p in pieces if p.item_id]
    rows = await con.fetch(_ITEMS, shop.shop_id, codes, ids)
    by_code = {row["tag_code"]: row for row in rows}
    by_id = {row["id"]: row for row in rows}
    found: dict[UUID, tuple[Row, PiecePrice]] = {}
    for piece in pieces:
        row = by_code.get(stored_code(piece.tag_code)) if piece.tag_code else None
        row = row or (by_id.get(piece.item_id) if piece.item_id else None)
        if row is None:
            name = piece.tag_code or str(piece.item_id)
            raise CodeNotInStockError(f"No piece in stock has the code {name}", tag_code=name)
        if row["id"] in found:
            raise RejectedInputError(
                f"{row['tag_code']} is named twice; give its quantity instead",
                tag_code=row["tag_code"],
            )
        found[row["id"]] = (row, piece)
    return list(found.values())


def counted(pieces: Sequence[PiecePrice]) -> list[PiecePrice]:
    """Join codes that are named several times."""
    found: dict[object, PiecePrice] = {}
    for piece in pieces:
        name = stored_code(piece.tag_code) if piece.tag_code else piece.item_id
        known = found.get(name)
        more = piece.quantity + (known.quantity if known else 0)
        found[name] = msgspec.structs.replace(piece, quantity=more)
    return list(found.values())


def each_piece(items: Sequence[tuple[Row, PiecePrice]]) -> list[UUID]:
    """Name each piece once: three of an item are its id three times."""
    return [UUID(str(item["id"])) for item, piece in items for _ in range(piece.quantity)]
