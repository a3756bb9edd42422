"""Every route of the service, collected from one list of modules."""

from __future__ import annotations

from typing import Final

from litestar.handlers import HTTPRouteHandler

from stallkeep.api import health, shop

MODULES: Final = (health, shop)

ROUTES: Final[list[HTTPRouteHandler]] = [route for module in MODULES for route in module.ROUTES]
