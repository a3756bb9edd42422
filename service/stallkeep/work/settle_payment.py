"""Settle a payment by a person's word: sell the pieces, or link the sale rung up before."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from uuid import UUID

from stallkeep.domain.errors import RejectedInputError
from stallkeep.domain.money import apportion, to_text
from stallkeep.store import matches, rulings
from stallkeep.store.connection import Connection, Row
from stallkeep.store.shops import Shop
from stallkeep.work.evidence_lines import added_tax
from stallkeep.work.named_pieces import PiecePrice, each_piece
from stallkeep.work.shop_tax import tax_of

# An entered sale that waits for its payment: of exactly these pieces, or of as much money.
_RING_UP: Final = """
select s.id, s.total_minor from sale s
 where s.shop_id = $1 and s.state = 'done' and s.origin <> 'match' and s.transaction_id is null
   and s.channel_id = $2 and s.sold_on = $3
   and (select coalesce(array_agg(sl.item_id order by sl.item_id), '{}') from sale_line sl
         where sl.shop_id = s.shop_id and sl.sale_id = s.id and sl.item_id is not null) = $4
   and (cardinality($4::uuid[]) > 0 or s.total_minor = $5)
 order by abs(s.total_minor - $5), s.id limit 1
"""


async def waiting_ring_up(
    con: Connection, shop: Shop, row: Row, items: Sequence[tuple[Row, PiecePrice]]
) -> UUID | None:
    """Find the sale that was rung up for this payment and waits for it."""
    ids = sorted(UUID(str(item["id"])) for item, _ in items)
    day, paid = row["occurred_on"], row["amount_minor"] - (row["tip_minor"] or 0)
    found = await con.fetchrow(_RING_UP, shop.shop_id, row["channel_id"], day, ids, paid)
    return None if found is None else UUID(str(found["id"]))


async def settle(
    con: Connection,
    shop: Shop,
    row: Row,
    items: Sequence[tuple[Row, PiecePrice]],
    by: str,
    *,
    ring_up: UUID | None,
) -> None:
    """Write the word down, and sell the pieces; a sale rung up before is linked instead."""
    kind = "confirmed" if items else "no_piece"
    await rulings.add_ruling(con, shop.shop_id, row["id"], kind, by, item_ids=each_piece(items))
    new = matches.NewMatch(
        transaction_id=row["id"],
        state="matched",
        explanation="pieces" if items else "untagged",
        probability=1.0,
        reason=f"{by} said so",
        evidence=[],
        decided_by=by,
        sale_id=ring_up,
        pieces=_shares(shop, row, items),
    )
    await matches.add_match(con, shop.shop_id, new, matches.sale_of(row))
    await matches.set_state(con, shop.shop_id, row["id"], "matched", new.reason)


def _shares(shop: Shop, row: Row, items: Sequence[tuple[Row, PiecePrice]]) -> list[matches.Piece]:
    """Split the payment, less tip, postage and added tax, over the pieces by their prices."""
    if not items:
        return []
    beside = (row["tip_minor"] or 0) + (row["postage_minor"] or 0)
    tax = tax_of(shop, row["occurred_on"])
    if tax.mode == "added":
        beside += added_tax(row, tax) or 0
    total = row["amount_minor"] - (beside if beside <= row["amount_minor"] else 0)
    said = sum(piece.price_minor for _, piece in items if piece.price_minor is not None)
    if said > total:
        raise RejectedInputError(
            f"The prices sum to more than was paid for pieces ({_amount(total, row)})",
            paid=_amount(total, row),
        )
    open_ones = [(item, piece) for item, piece in items if piece.price_minor is None]
    weights = [(item["price_minor"] or 0) * piece.quantity for item, piece in open_ones]
    rest = iter(
        apportion(total - said, weights if sum(weights) else [1] * len(open_ones))
        if open_ones
        else ()
    )
    prices = [next(rest) if p.price_minor is None else p.price_minor for _, p in items]
    return [
        matches.Piece(UUID(str(item["id"])), price, piece.quantity)
        for (item, piece), price in zip(items, prices, strict=True)
    ]


def _amount(minor: int, row: Row) -> str:
    return to_text(minor, row["currency"])
