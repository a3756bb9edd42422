"""Tokens: who may ask."""

from __future__ import annotations

from typing import Literal
from uuid import UUID

from litestar import Response, delete, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody

from stallkeep.api.auth import Caller
from stallkeep.api.schemas import Body, Moment, View, Word, shown
from stallkeep.store import tokens as store
from stallkeep.work.hand_out_token import hand_out_token
from stallkeep.work.tokens import revoke_token

Role = Literal["owner", "helper"]


class Token(View):
    """A token without its text."""

    id: UUID
    name: str
    role: Role
    created_at: Moment
    revoked_at: Moment | None


class TokenList(View):
    """Every token of the shop, oldest first."""

    data: list[Token]


class NewToken(Body):
    """Who shall have a token: an owner may do everything, a helper what happens at a stall."""

    name: Word
    role: Role = "helper"


class HandedOut(View):
    """A new token with its text, which cannot be read again."""

    id: UUID
    name: str
    role: Role
    text: str


@get("/v1/tokens", operation_id="listTokens", tags=["tokens"])
async def list_tokens(caller: NamedDependency[Caller]) -> TokenList:
    """List every token, revoked ones too."""
    async with caller.read_scope() as con:
        rows = await store.all_tokens(con, caller.shop.shop_id)
    return TokenList(data=[shown(Token, row, caller.shop.currency) for row in rows])


@post("/v1/tokens", operation_id="handOutToken", tags=["tokens"])
async def add_token(
    data: JSONBody[NewToken], caller: NamedDependency[Caller]
) -> Response[HandedOut]:
    """Hand out a token. Its text is in this answer only, so no Idempotency-Key is taken."""
    async with caller.scope() as con:
        row, text = await hand_out_token(con, caller.shop.shop_id, data.name, data.role)
    view = HandedOut(id=row.id, name=row.name, role=data.role, text=text)
    return Response(view, status_code=201, headers={"Cache-Control": "no-store"})


@delete("/v1/tokens/{token_id:uuid}", operation_id="revokeToken", tags=["tokens"])
async def remove_token(token_id: FromPath[UUID], caller: NamedDependency[Caller]) -> None:
    """Revoke a token: it opens nothing from now on."""
    async with caller.scope() as con:
        await revoke_token(con, caller.shop.shop_id, token_id)


ROUTES = (list_tokens, add_token, remove_token)
