"""Open a transaction for a person's word: held, and free of what was said before."""

from __future__ import annotations

from typing import Final
from uuid import UUID

from stallkeep.domain.errors import ConflictError, RejectedInputError
from stallkeep.store import rulings
from stallkeep.store.connection import Connection, Row
from stallkeep.store.joined_sales import part_company
from stallkeep.store.shops import Shop
from stallkeep.store.turns import matching_turn
from stallkeep.work.read_transaction import TransactionNotFoundError

NO_LONGER_JOINED: Final = "It was part of a sale that is undone"

_TRANSACTION: Final = """
select id, channel_id, event_id, kind, method, amount_minor, currency, tip_minor, postage_minor,
       tax_minor, occurred_at, occurred_on, match_state, import_id
  from transaction where shop_id = $1 and id = $2 for update
"""


class NotASaleError(RejectedInputError):
    """Only payments and sales are for pieces."""

    code = "not-a-sale"
    title = "This transaction is not for pieces"


async def open_line(con: Connection, shop: Shop, transaction_id: UUID, *withdraw: str) -> Row:
    """Lock the shop's matching and a transaction, and withdraw what was said of it by these kinds.

    With the words that settle it, a sale it was joined in comes apart.
    """
    await matching_turn(con, shop.shop_id)
    row = await con.fetchrow(_TRANSACTION, shop.shop_id, transaction_id)
    if row is None:
        raise TransactionNotFoundError("There is no such transaction in this shop")
    if withdraw:
        refuse_what_was_entered(row)
        if "part_of_sale" in withdraw:
            await part_company(con, shop.shop_id, [transaction_id], NO_LONGER_JOINED)
        await rulings.withdraw_rulings(con, shop.shop_id, transaction_id, withdraw)
    return row


def refuse_what_is_no_sale(shop: Shop, row: Row) -> None:
    """Raise NotASaleError for a fee, a payout, a refund, and what is in another currency."""
    if row["kind"] not in ("payment", "sale"):
        raise NotASaleError(f"A {row['kind']} is not for pieces", kind=row["kind"])
    if row["currency"] != shop.currency:
        raise NotASaleError(
            f"It is in {row['currency']}; the shop keeps its books in {shop.currency}. "
            "Set it aside, and enter the sale by hand.",
            kind=row["kind"],
        )


def refuse_what_was_entered(row: Row) -> None:
    """Raise ConflictError for money that no export told of: its sale was entered with it."""
    if row["import_id"] is None:
        raise ConflictError("It was entered together with its sale; change the sale instead")
