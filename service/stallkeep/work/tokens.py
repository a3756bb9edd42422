"""List and revoke tokens; `hand_out_token` makes them."""

from __future__ import annotations

from uuid import UUID

from stallkeep.store import tokens
from stallkeep.store.connection import Connection
from stallkeep.work.stock_errors import LastOwnerError, TokenNotFoundError


async def revoke_token(con: Connection, shop_id: UUID, token_id: UUID) -> None:
    """End a token at once; doing it twice changes nothing.

    Raises:
        TokenNotFoundError: The shop has none with this id.
        LastOwnerError: No other owner's token would be left.
    """
    token = await tokens.find_token(con, shop_id, token_id)
    if token is None:
        raise TokenNotFoundError(f"There is no token {token_id}")
    last = token.role == "owner" and await tokens.is_last_owner(con, shop_id, token_id)
    if token.revoked_at is None and last:
        raise LastOwnerError("Make another owner's token first")
    await tokens.revoke_token(con, shop_id, token_id)
