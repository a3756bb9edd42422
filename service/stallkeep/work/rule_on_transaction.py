"""A person's word about a payment: what it was for, what it was not, or that it is no sale.

The word is kept for ever and outweighs whatever a run worked out. It may take a piece from a
match that only the engine made; it never silently takes one from another person's word.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any
from uuid import UUID

from stallkeep.domain.matching.settled import SETTLING
from stallkeep.store import matches, rulings
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import scope
from stallkeep.store.joined_sales import part_company
from stallkeep.store.shops import Shop
from stallkeep.work.contradicting_words import (
    settle_refused_claims,
    settle_what_was_asked,
    show_contradicting_words,
)
from stallkeep.work.free_pieces import PieceSpokenForError, free_pieces, show_conflict
from stallkeep.work.named_pieces import PiecePrice, counted, each_piece, find_items
from stallkeep.work.open_line import (
    NO_LONGER_JOINED,
    open_line,
    refuse_what_is_no_sale,
    refuse_what_was_entered,
)
from stallkeep.work.settle_payment import settle, waiting_ring_up
from stallkeep.work.sold_after_all import brought_back, sell_after_all


async def confirm(
    pool: Pool, shop: Shop, transaction_id: UUID, pieces: Sequence[PiecePrice], by: str
) -> None:
    """Say which pieces a payment was for; none says it was for something without a tag.

    Raises:
        TransactionNotFoundError: The shop has no such transaction.
        NotASaleError: It is a fee, a payout or a refund.
        CodeNotInStockError: A code is unknown.
        PieceSpokenForError: Somebody said before that a piece went to another customer.
    """
    try:
        async with scope(pool, shop.shop_id) as con:
            row = await open_line(con, shop, transaction_id, *SETTLING)
            refuse_what_is_no_sale(shop, row)
            items = await find_items(con, shop, pieces)
            await matches.release(con, shop.shop_id, [transaction_id], also_decided=True)
            ring_up = await waiting_ring_up(con, shop, row, items)
            if ring_up is None:
                await free_pieces(con, shop, items)
            await settle(con, shop, row, items, by, ring_up=ring_up)
            await _compare(con, shop, transaction_id, by)
    except PieceSpokenForError as error:
        await show_conflict(pool, shop, transaction_id, error)
        raise


async def refuse(
    pool: Pool, shop: Shop, transaction_id: UUID, pieces: Sequence[PiecePrice], by: str
) -> None:
    """Say that a payment was not for exactly these pieces; a code twice means two of it.

    Raises:
        TransactionNotFoundError: The shop has no such transaction.
        NotASaleError: It is a fee, a payout or a refund.
        CodeNotInStockError: A code is unknown.
    """
    async with scope(pool, shop.shop_id) as con:
        row = await open_line(con, shop, transaction_id)
        refuse_what_was_entered(row)
        refuse_what_is_no_sale(shop, row)
        items = each_piece(await find_items(con, shop, counted(pieces)))
        await rulings.add_ruling(con, shop.shop_id, transaction_id, "refused", by, item_ids=items)
        await settle_refused_claims(con, shop.shop_id, transaction_id, items, by)
        stored = await matches.matches_of(con, shop.shop_id, [transaction_id])
        wanted = Counter(map(str, items))
        hit = [m for m in stored if wanted == {p["item_id"]: p["quantity"] for p in m.pieces}]
        if row["match_state"] == "matched" and not hit:
            return
        await _release_refused(con, shop, transaction_id, stored, hit)
        await show_contradicting_words(con, shop.shop_id, transaction_id, by)


async def say_how_many(pool: Pool, shop: Shop, transaction_id: UUID, pieces: int, by: str) -> None:
    """Say for how many pieces a payment was; the next run takes it into account.

    Raises:
        TransactionNotFoundError: The shop has no such transaction.
        NotASaleError: It is a fee, a payout or a refund.
    """
    async with scope(pool, shop.shop_id) as con:
        row = await open_line(con, shop, transaction_id, "count")
        refuse_what_is_no_sale(shop, row)
        await rulings.add_ruling(con, shop.shop_id, transaction_id, "count", by, pieces=pieces)
        await show_contradicting_words(con, shop.shop_id, transaction_id, by)


async def set_aside(
    pool: Pool, shop: Shop, transaction_id: UUID, reason: str, by: str, *, is_income: bool = True
) -> None:
    """Say that a transaction is not to be matched, and why.

    Not income (a test, a loan paid back) it stands in the takings and is taken off again. Pieces
    that a refund was said to have brought back are sold after all.

    Raises:
        TransactionNotFoundError: The shop has no such transaction.
        PieceSpokenForError: Such a piece went to another customer since.
    """
    async with scope(pool, shop.shop_id) as con:
        back = await brought_back(con, shop, transaction_id)
        await open_line(con, shop, transaction_id, *SETTLING)
        await sell_after_all(con, shop, back)
        await matches.release(con, shop.shop_id, [transaction_id], also_decided=True)
        await rulings.add_ruling(
            con, shop.shop_id, transaction_id, "set_aside", by, reason=reason, is_income=is_income
        )
        await matches.set_state(con, shop.shop_id, transaction_id, "set_aside", reason)
        await _compare(con, shop, transaction_id, by)


async def take_back(pool: Pool, shop: Shop, transaction_id: UUID) -> None:
    """Take back what was said about a transaction; it is open again until the next run.

    Pieces that a refund was said to have brought back are sold after all.

    Raises:
        TransactionNotFoundError: The shop has no such transaction.
        PieceSpokenForError: Such a piece went to another customer since.
    """
    async with scope(pool, shop.shop_id) as con:
        back = await brought_back(con, shop, transaction_id)
        await open_line(con, shop, transaction_id, *SETTLING, "refused", "count")
        await sell_after_all(con, shop, back)
        await rulings.withdraw_apart(con, shop.shop_id, [transaction_id], among_them=False)
        await matches.release(con, shop.shop_id, [transaction_id], also_decided=True)
        await matches.set_state(con, shop.shop_id, transaction_id, "unmatched", None)


async def _compare(con: Connection, shop: Shop, transaction_id: UUID, by: str) -> None:
    """Show that this word contradicts another's; what was asked before is settled."""
    await show_contradicting_words(con, shop.shop_id, transaction_id, by)
    await settle_what_was_asked(con, shop.shop_id, transaction_id, by)


async def _release_refused(
    con: Connection, shop: Shop, transaction_id: UUID, stored: Sequence[Any], hit: Sequence[Any]
) -> None:
    ids = [match.id for match in hit]
    if any(match.state == "matched" for match in hit):
        await part_company(con, shop.shop_id, [transaction_id], NO_LONGER_JOINED)
        await matches.release(con, shop.shop_id, [transaction_id], also_decided=True)
        await rulings.withdraw_rulings(con, shop.shop_id, transaction_id, SETTLING)
    else:
        await con.execute(
            "delete from match where shop_id = $1 and id = any($2)", shop.shop_id, ids
        )
    left = [m for m in stored if m.id not in ids and m.state == "proposed"]
    state = "proposed" if left and not any(m.state == "matched" for m in hit) else "unmatched"
    reason = "You said it was not the piece proposed" if state == "unmatched" else left[0].reason
    await matches.set_state(con, shop.shop_id, transaction_id, state, reason)
