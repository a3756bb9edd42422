"""The service as one ASGI application."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from litestar import Litestar
from litestar.datastructures import State
from litestar.di import Provide
from litestar.handlers import HTTPRouteHandler
from litestar.middleware import DefineMiddleware
from litestar.types import ASGIApp

from stallkeep.api import docs, openapi, problem_pages
from stallkeep.api.auth import OPEN, BearerTokens, caller, owner_unless_said
from stallkeep.api.once import once
from stallkeep.api.problems import HANDLERS
from stallkeep.api.routes import ROUTES
from stallkeep.api.strictness import StrictRequest, look_before
from stallkeep.api.versions import expected
from stallkeep.api.wrapper import complete_methods, log_requests
from stallkeep.config import Settings
from stallkeep.store.connection import Pool

MAXIMUM_BODY_BYTES = 1_000_000
"""Of a JSON body; a route that takes files says its own."""


def create_app(settings: Settings, pool: Pool) -> ASGIApp:
    """Build the service over an open pool, which stays the caller's to close."""
    return wrapped(framework(all_routes(), pool, settings))


def all_routes() -> list[HTTPRouteHandler]:
    """List every route, those beside the API too."""
    return [*ROUTES, *docs.ROUTES, *openapi.ROUTES, *problem_pages.ROUTES]


def wrapped(app: Litestar) -> ASGIApp:
    """Put around the framework what it leaves out."""
    return log_requests(complete_methods(app))


def framework(
    routes: Sequence[HTTPRouteHandler],
    pool: Pool | None = None,
    settings: Settings | None = None,
) -> Litestar:
    """Build what lies inside the wrapper. Without a pool it can only describe itself."""
    dependencies: dict[str, Any] = {
        "caller": Provide(caller),
        "expected": Provide(expected),
        "once": Provide(once),
    }
    return Litestar(
        routes,
        state=State({"pool": pool, "settings": settings}),
        request_class=StrictRequest,
        before_request=look_before,
        middleware=[DefineMiddleware(BearerTokens, exclude_from_auth_key=OPEN)],
        guards=[owner_unless_said],
        dependencies=dependencies,
        exception_handlers=HANDLERS,
        request_max_body_size=MAXIMUM_BODY_BYTES,
        openapi_config=None,
        logging_config=None,
    )
