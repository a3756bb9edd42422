"""Read a transaction that must be there."""

from __future__ import annotations

from uuid import UUID

from stallkeep.store.connection import Connection
from stallkeep.store.transactions import Transaction, find_transaction
from stallkeep.work.rule_on_transaction import TransactionNotFoundError


async def read_transaction(con: Connection, shop_id: UUID, transaction_id: UUID) -> Transaction:
    """Read one transaction.

    Raises:
        TransactionNotFoundError: The shop has no such transaction.
    """
    row = await find_transaction(con, shop_id, transaction_id)
    if row is None:
        raise TransactionNotFoundError("There is no such transaction in this shop")
    return row
