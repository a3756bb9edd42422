"""Pieces that a refund's word brought back, and that are sold after all once the word is gone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from uuid import UUID

from stallkeep.store import matches, rulings, sales
from stallkeep.store.connection import Connection
from stallkeep.store.shops import Shop
from stallkeep.store.turns import matching_turn
from stallkeep.work.free_pieces import free_pieces
from stallkeep.work.named_pieces import PiecePrice, counted, find_items


async def brought_back(con: Connection, shop: Shop, refund_id: UUID) -> dict[UUID, Counter[UUID]]:
    """Say which pieces the word that stands about a refund brought back, by payment."""
    await matching_turn(con, shop.shop_id)
    back: dict[UUID, Counter[UUID]] = {}
    for ruling in await rulings.standing_rulings(con, shop.shop_id, [refund_id]):
        if ruling.related_transaction_id is not None and ruling.item_ids:
            back.setdefault(ruling.related_transaction_id, Counter()).update(ruling.item_ids)
    return back


async def sell_after_all(con: Connection, shop: Shop, back: Mapping[UUID, Counter[UUID]]) -> None:
    """Take pieces off the stock again, as lines of the sale they came back from.

    A run's own match that holds such a piece by now is released.

    Args:
        con: In the shop's scope.
        shop: The shop.
        back: How many of each piece, by the payment they had come back from.

    Raises:
        PieceSpokenForError: Somebody said that a piece went to another customer since.
    """
    for payment_id, pieces in back.items():
        found = await matches.matches_of(con, shop.shop_id, [payment_id])
        sale_id = found[0].sale_id if found else None
        if sale_id is None:
            continue
        lines = (await sales.lines_of(con, shop.shop_id, [sale_id]))[sale_id]
        chosen = _returned(lines, pieces)
        if not chosen:
            continue
        named = counted(
            [PiecePrice(item_id=line.item_id, quantity=line.quantity) for line in chosen]
        )
        await free_pieces(con, shop, await find_items(con, shop, named))
        await sales.sell_again(con, shop.shop_id, sale_id, [line.line_no for line in chosen])
        await sales.change_sale(con, shop.shop_id, sale_id, {})


def _returned(lines: list[sales.SaleLine], pieces: Counter[UUID]) -> list[sales.SaleLine]:
    """Choose the lines that came back, as many as were brought back of each piece."""
    left = Counter(pieces)
    chosen = []
    for line in lines:
        if line.item_id and line.state == "returned" and line.quantity <= left[line.item_id]:
            left[line.item_id] -= line.quantity
            chosen.append(line)
    return chosen
