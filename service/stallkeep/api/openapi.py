"""The OpenAPI document, made from the handlers' own types; no database is needed.

The framework's generator is left aside: it loses constraints inside lists and the difference
between null and left out, and says nothing of the problem documents. msgspec describes exactly
what it will accept, so the document cannot promise anything else.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from importlib.metadata import version
from typing import Any, Final, TextIO

import msgspec
from litestar import get
from litestar.handlers import HTTPRouteHandler
from litestar.response import Response
from litestar.routes import HTTPRoute

from stallkeep.api.auth import FOR_ANYBODY
from stallkeep.api.openapi_operation import REFUSALS, describe
from stallkeep.api.openapi_schemas import Schemas
from stallkeep.api.problems import MEDIA_TYPE, Problem

_ABOUT: Final = """\
One inventory sold in several places, payments matched to pieces, and what each market earned.

Amounts are decimal strings in the shop's currency, moments have an offset, ids are UUIDs. Every
refusal is a problem document (RFC 9457). Lists come in pages: follow the `Link` with rel="next".
To change something, send back the `ETag` you read as `If-Match`. Send an `Idempotency-Key` with
a POST, and sending it again does nothing a second time.

Prices, tax and profit figures are arithmetic on what was entered, not tax, legal or accounting
advice: ask your tax authority or a licensed professional.
"""
_TAGS: Final = {
    "shop": "The seller's business.",
    "tokens": "Who may ask.",
    "channels": "Ways of selling, and what each charges.",
    "items": "The stock, piece by piece.",
    "listings": "Items on offer on a channel.",
    "events": "Markets: days, rail, stock count, stubs, result.",
    "costs": "Money spent.",
    "sales": "What was sold, to one customer each.",
    "conflicts": "What contradicts itself and a person has to see.",
    "imports": "Files taken in.",
    "transactions": "Lines of evidence, and what each was for.",
    "reconciliations": "Runs that match payments to pieces.",
    "take-downs": "Live listings of pieces that are gone.",
    "years": "What a year came to.",
    "exports": "Everything the shop has, to take away.",
    "service": "The service itself.",
}


@cache
def document() -> dict[str, Any]:
    """Describe every route as an OpenAPI 3.1 document."""
    from stallkeep.api.app import framework  # noqa: PLC0415 - the app serves this very document
    from stallkeep.api.routes import ROUTES  # noqa: PLC0415 - likewise

    schemas = Schemas()
    paths: dict[str, dict[str, Any]] = {}
    for route, method, handler in _handlers(framework(ROUTES).routes):
        operation = describe(route, method, handler, schemas)
        paths.setdefault(route.path_format, {})[method.lower()] = operation
    problem = schemas.of(Problem)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Stallkeep",
            "version": version("stallkeep"),
            "description": _ABOUT,
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "servers": [{"url": "/"}],
        "security": [{"token": []}],
        "tags": _tags(paths),
        "paths": {path: dict(sorted(paths[path].items())) for path in sorted(paths)},
        "components": {
            "securitySchemes": {
                "token": {"type": "http", "scheme": "bearer", "description": "The shop's token"}
            },
            "responses": {
                name: {
                    "description": text,
                    "content": {MEDIA_TYPE: {"schema": problem}},
                }
                for name, text in REFUSALS.values()
            },
            "schemas": schemas.components(),
        },
    }


def _handlers(routes: list[Any]) -> Iterator[tuple[HTTPRoute, str, HTTPRouteHandler]]:
    for route in routes:
        if isinstance(route, HTTPRoute):
            for handler in route.route_handlers:
                for method in sorted(handler.http_methods - {"OPTIONS"}):
                    yield route, method, handler


def _tags(paths: dict[str, dict[str, Any]]) -> list[dict[str, str]]:
    used = {tag for path in paths.values() for one in path.values() for tag in one["tags"]}
    return [{"name": name, "description": text} for name, text in _TAGS.items() if name in used]


@cache
def text() -> str:
    """Write the document as it is committed: indented, ending in a line break."""
    return msgspec.json.format(msgspec.json.encode(document()), indent=2).decode() + "\n"


def write_document(stream: TextIO) -> None:
    """Write the document to a stream."""
    stream.write(text())


@get("/openapi.json", opt=FOR_ANYBODY, include_in_schema=False)
async def read_document() -> Response[bytes]:
    """Give this document."""
    return Response(text().encode(), media_type="application/json")


ROUTES = (read_document,)
