"""A person's word that two payments are two sales, however much they look like parts of one."""

from __future__ import annotations

from uuid import UUID

from stallkeep.domain.errors import ConflictError, RejectedInputError
from stallkeep.store import rulings
from stallkeep.store.connection import Pool
from stallkeep.store.engine import scope
from stallkeep.store.joined_sales import paid_together
from stallkeep.store.shops import Shop
from stallkeep.work.open_line import open_line, refuse_what_is_no_sale, refuse_what_was_entered


class SaidToBeOneSaleError(ConflictError):
    """Somebody said before that these payments are parts of one sale."""

    code = "said-to-be-one-sale"
    title = "The payments were said to be one sale"


async def keep_apart(pool: Pool, shop: Shop, transaction_id: UUID, other_id: UUID, by: str) -> None:
    """Say that two payments are two sales; later runs do not ask whether they are one.

    What either was for stays open. Taking the word about either back takes this back, too.

    Raises:
        TransactionNotFoundError: The shop has no such transaction.
        NotASaleError: One is a fee, a payout or a refund.
        RejectedInputError: They are one payment.
        SaidToBeOneSaleError: They were joined; that is to be taken back first.
    """
    if transaction_id == other_id:
        raise RejectedInputError("Name the other payment")
    async with scope(pool, shop.shop_id) as con:
        for one in sorted((transaction_id, other_id)):
            row = await open_line(con, shop, one)
            refuse_what_was_entered(row)
            refuse_what_is_no_sale(shop, row)
        if other_id in await paid_together(con, shop.shop_id, [transaction_id]):
            raise SaidToBeOneSaleError("Take back first that they are parts of one sale")
        pair = [transaction_id, other_id]
        await rulings.withdraw_apart(con, shop.shop_id, pair, among_them=True)
        await rulings.add_ruling(
            con, shop.shop_id, transaction_id, "apart", by, related_transaction_id=other_id
        )
