"""Make a token and hand out its text, once."""

from __future__ import annotations

from uuid import UUID

from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.store.tokens import Token, add_token
from stallkeep.work.token_text import new_token


async def hand_out_token(con: Connection, shop_id: UUID, name: str, role: str) -> tuple[Token, str]:
    """Make a token for *role* and give it with its text."""
    made = new_token(shop_id, new_id())
    values = {
        "shop_id": shop_id,
        "id": made.token_id,
        "name": name,
        "role": role,
        "secret_sha256": made.secret_sha256(),
    }
    token = await add_token(con, values)
    return token, str(made)
