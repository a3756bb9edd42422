"""Find out whose token a text is."""

from __future__ import annotations

from stallkeep.store.connection import Pool
from stallkeep.store.engine import read_scope
from stallkeep.store.shops import Shop, find_shop
from stallkeep.store.tokens import Token, find_token
from stallkeep.work.token_text import read_token


async def know_caller(pool: Pool, text: str) -> tuple[Shop, Token] | None:
    """Look a token up inside the scope of the shop it names; None for a bad or revoked one."""
    told = read_token(text)
    if told is None:
        return None
    async with read_scope(pool, told.shop_id) as con:
        token = await find_token(con, told.shop_id, told.token_id)
        shop = await find_shop(con, told.shop_id)
    if token is None or shop is None or token.revoked_at is not None:
        return None
    return (shop, token) if told.is_proven_by(token.secret_sha256) else None
