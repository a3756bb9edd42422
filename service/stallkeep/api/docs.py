"""The page that lists every request."""

from litestar.handlers import HTTPRouteHandler

ROUTES: tuple[HTTPRouteHandler, ...] = ()
