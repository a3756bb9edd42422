"""A person's word that several payments are parts of one sale: a card part and a cash part, say.

One payment has the sale, with all its pieces at what they brought in all; the others are matched
as parts of it. Every payment keeps its amount and method, so takings stay what they were.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from uuid import UUID

from stallkeep.domain.errors import RejectedInputError
from stallkeep.domain.matching.settled import SETTLING
from stallkeep.store import matches, rulings
from stallkeep.store.connection import Connection, Pool, Row
from stallkeep.store.engine import scope
from stallkeep.store.shops import Shop
from stallkeep.work.contradicting_words import settle_what_was_asked, show_contradicting_words
from stallkeep.work.free_pieces import PieceSpokenForError, free_pieces, show_conflict
from stallkeep.work.named_pieces import PiecePrice, find_items
from stallkeep.work.open_line import open_line, refuse_what_is_no_sale
from stallkeep.work.settle_payment import settle, waiting_ring_up

SUMMED = ("amount_minor", "tip_minor", "postage_minor")


class NotOneSaleError(RejectedInputError):
    """Payments of different days or events are not parts of one sale."""

    code = "not-one-sale"
    title = "These payments cannot be parts of one sale"


async def join_payments(
    pool: Pool,
    shop: Shop,
    transaction_id: UUID,
    others: Sequence[UUID],
    pieces: Sequence[PiecePrice],
    *,
    by: str,
) -> None:
    """Say that payments are parts of one sale of these pieces.

    What was said of any of them before is withdrawn. Taking the word back for one of them opens
    them all again.

    Args:
        pool: Of the shop's database.
        shop: The shop.
        transaction_id: The payment that has the sale.
        others: The other parts, at least one.
        pieces: At least one; prices, where given, are parts of the sum of all payments.
        by: Who says so.

    Raises:
        NotOneSaleError: They are not of one day and event, or one is named twice.
        TransactionNotFoundError: The shop has no such transaction.
        NotASaleError: One is a fee, a payout or a refund, or in another currency.
        CodeNotInStockError: A code is unknown.
        PieceSpokenForError: Somebody said before that a piece went to another customer.
    """
    together = [transaction_id, *others]
    if len(together) < 2 or len(set(together)) < len(together):  # noqa: PLR2004 - a pair
        raise NotOneSaleError("Name the other payments, each once")
    try:
        async with scope(pool, shop.shop_id) as con:
            rows = await _opened(con, shop, together)
            await rulings.withdraw_apart(con, shop.shop_id, together, among_them=True)
            items = await find_items(con, shop, pieces)
            await matches.release(con, shop.shop_id, together, also_decided=True)
            whole = _whole_of(rows)
            ring_up = await waiting_ring_up(con, shop, whole, items)
            if ring_up is None:
                await free_pieces(con, shop, items)
            await settle(con, shop, whole, items, by, ring_up=ring_up)
            for row in rows[1:]:
                await _add_part(con, shop, row["id"], transaction_id, by)
            for one in together:
                await show_contradicting_words(con, shop.shop_id, one, by)
                await settle_what_was_asked(con, shop.shop_id, one, by)
    except PieceSpokenForError as error:
        await show_conflict(pool, shop, transaction_id, error)
        raise


async def _opened(con: Connection, shop: Shop, together: Sequence[UUID]) -> list[Row]:
    """Open every payment, in one order for all, and hand them back in the order given."""
    found = {one: await open_line(con, shop, one, *SETTLING) for one in sorted(together)}
    rows = [found[one] for one in together]
    for row in rows:
        refuse_what_is_no_sale(shop, row)
    if len({(row["event_id"], row["occurred_on"]) for row in rows}) > 1:
        raise NotOneSaleError("They are not of one day at one event")
    return rows


def _whole_of(rows: Sequence[Row]) -> Mapping[str, object]:
    """The first payment as if it had paid for everything; by no one method if they differ."""
    whole = dict(zip(rows[0].keys(), rows[0], strict=True))
    for name in SUMMED:
        whole[name] = sum(row[name] or 0 for row in rows)
    taxes = [row["tax_minor"] for row in rows]
    whole["tax_minor"] = None if None in taxes else sum(taxes)
    methods = {row["method"] for row in rows}
    whole["method"] = methods.pop() if len(methods) == 1 else None
    return whole


async def _add_part(
    con: Connection, shop: Shop, part_id: UUID, transaction_id: UUID, by: str
) -> None:
    await rulings.add_ruling(
        con, shop.shop_id, part_id, "part_of_sale", by, related_transaction_id=transaction_id
    )
    new = matches.NewMatch(
        transaction_id=part_id,
        state="matched",
        explanation="part_of_sale",
        probability=1.0,
        reason=f"{by} said it is a part of another sale",
        related_transaction_id=transaction_id,
        decided_by=by,
    )
    await matches.add_match(con, shop.shop_id, new)
    await matches.set_state(con, shop.shop_id, part_id, "matched", new.reason)
