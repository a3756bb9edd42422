"""Bearer tokens (RFC 6750): who asks, for which shop, and what a helper may do."""

from __future__ import annotations

import datetime as dt
from contextlib import AbstractAsyncContextManager
from typing import Any, Final
from zoneinfo import ZoneInfo

import msgspec
import structlog
from litestar.connection import ASGIConnection
from litestar.exceptions import NotAuthorizedException
from litestar.handlers import BaseRouteHandler
from litestar.middleware import AbstractAuthenticationMiddleware, AuthenticationResult

from stallkeep.api.strictness import StrictRequest
from stallkeep.domain.errors import NotAllowedError
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import read_scope, scope
from stallkeep.store.shops import Shop
from stallkeep.work.know_caller import know_caller

OPEN: Final = "open"
HELPER: Final = "helper"

FOR_ANYBODY: Final = {OPEN: True}
"""Give a handler this as ``opt`` when it is answered without a token."""

FOR_HELPERS: Final = {HELPER: True}
"""Give a handler this as ``opt`` when a helper's token is enough; else only an owner's is."""


class Caller(msgspec.Struct, frozen=True, gc=False):
    """Who asks: the token's shop, name and role, and the way to that shop's rows."""

    shop: Shop
    name: str
    role: str
    pool: Pool

    def scope(self) -> AbstractAsyncContextManager[Connection]:
        """Open one transaction that sees and changes this shop's rows only."""
        return scope(self.pool, self.shop.shop_id)

    def read_scope(self) -> AbstractAsyncContextManager[Connection]:
        """Open one transaction that only reads this shop's rows."""
        return read_scope(self.pool, self.shop.shop_id)

    def today(self) -> dt.date:
        """Say which day it is for the shop."""
        return dt.datetime.now(ZoneInfo(self.shop.time_zone)).date()


class BearerTokens(AbstractAuthenticationMiddleware):
    """Reads the token of every request whose handler is not open."""

    async def authenticate_request(
        self, connection: ASGIConnection[Any, Any, Any, Any]
    ) -> AuthenticationResult:
        """Find out who asks.

        Raises:
            NotAuthorizedException: There is no token, or nobody has this one.
        """
        scheme, _, text = connection.headers.get("authorization", "").partition(" ")
        if scheme.lower() != "bearer":
            raise _refusal("Send the shop's token as Authorization: Bearer sk_…")
        pool = connection.app.state.pool
        known = await know_caller(pool, text.strip())
        if known is None:
            raise _refusal("The token is unknown or was revoked", error="invalid_token")
        shop, token = known
        structlog.contextvars.bind_contextvars(shop_id=str(shop.shop_id))
        caller = Caller(shop, token.name, token.role, pool)
        return AuthenticationResult(user=caller, auth=None)


def _refusal(detail: str, **parts: str) -> NotAuthorizedException:
    listed = "".join(f', {name}="{value}"' for name, value in parts.items())
    challenge = f'Bearer realm="stallkeep"{listed}'
    return NotAuthorizedException(detail, headers={"WWW-Authenticate": challenge})


async def owner_unless_said(
    connection: ASGIConnection[Any, Any, Any, Any], handler: BaseRouteHandler
) -> None:
    """Let a helper pass only where the handler says so.

    Raises:
        NotAllowedError: A helper asks for what is the owner's.
    """
    open_to_all = handler.opt.get(OPEN) or handler.opt.get(HELPER)
    if not open_to_all and "user" in connection.scope and connection.user.role != "owner":
        raise NotAllowedError("Only an owner's token may do this")


async def caller(request: StrictRequest) -> Caller:
    """Give a handler the one who asks."""
    found: Caller = request.user
    return found
