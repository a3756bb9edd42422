"""Read a transaction that must be there."""

from __future__ import annotations

from uuid import UUID

from stallkeep.domain.errors import NotFoundError
from stallkeep.store.connection import Connection
from stallkeep.store.transactions import Transaction, find_transaction


class TransactionNotFoundError(NotFoundError):
    """There is no such transaction."""

    code = "transaction-not-found"
    title = "No such transaction"


async def read_transaction(con: Connection, shop_id: UUID, transaction_id: UUID) -> Transaction:
    """Read one transaction.

    Raises:
        TransactionNotFoundError: The shop has no such transaction.
    """
    row = await find_transaction(con, shop_id, transaction_id)
    if row is None:
        raise TransactionNotFoundError("There is no such transaction in this shop")
    return row
