"""What Litestar lets through and we do not: other media types, unknown parameters, loose types."""

from __future__ import annotations

from collections.abc import AsyncGenerator
from typing import Any
from urllib.parse import unquote_to_bytes

import msgspec
from litestar import Request
from litestar.datastructures import State
from litestar.enums import ParamType
from litestar.exceptions import (
    ClientException,
    HTTPException,
    InternalServerException,
    ValidationException,
)
from litestar.handlers import HTTPRouteHandler

from stallkeep.api.parameters import wire_names
from stallkeep.api.plausible_days import EXPECTED, implausible_day
from stallkeep.api.problems import field_error, invalid

MERGE_PATCH = "application/merge-patch+json"
JSON = "application/json"


class StrictRequest(Request[Any, Any, State]):
    """Decodes a body straight into the handler's type, so that "3" is not taken for 3."""

    async def stream(self) -> AsyncGenerator[bytes, None]:
        """Give the body in pieces.

        Raises:
            ClientException: Its sender has gone before all of it was here.
        """
        try:
            async for piece in super().stream():
                yield piece
        except InternalServerException as error:
            raise ClientException("The sender went away before the body was whole") from error

    async def json(self) -> Any:  # noqa: ANN401 - whatever the handler declares as data
        field = self.route_handler.parsed_data_field
        body = await self.body()
        kind = field.raw if field else Any
        try:
            found = msgspec.json.decode(body, type=kind)
        except msgspec.ValidationError as error:
            raise invalid(error, kind) from error
        except (msgspec.DecodeError, UnicodeDecodeError) as error:
            raise ClientException(f"The body is not JSON: {error}") from error
        if (steps := implausible_day(found)) is not None:
            raise field_error(EXPECTED, steps)
        return found


async def look_before(request: Request[Any, Any, Any]) -> None:
    """Refuse a body of another media type, and query parameters nobody asked for."""
    handler = request.route_handler
    if isinstance(handler, HTTPRouteHandler):
        _check_coding(request)
        _check_media_type(request, handler)
        _check_query(request, handler)
        if media_types(handler) and not await request.body():
            raise ClientException("The body is empty; send a JSON object")


def media_types(handler: HTTPRouteHandler) -> tuple[str, ...]:
    """List the media types a handler's body may have; none when it takes no body."""
    if handler.parsed_data_field is None:
        return ()
    return (MERGE_PATCH, JSON) if "PATCH" in handler.http_methods else (JSON,)


def _check_media_type(request: Request[Any, Any, Any], handler: HTTPRouteHandler) -> None:
    wanted = media_types(handler)
    got = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if wanted and got not in wanted:
        raise HTTPException(
            status_code=415,
            detail=f"Send the body as {' or '.join(wanted)}, not {got or 'without Content-Type'}",
            headers={"Accept-Patch" if request.method == "PATCH" else "Accept": ", ".join(wanted)},
        )


def _check_coding(request: Request[Any, Any, Any]) -> None:
    """Refuse a body that was packed on the way (RFC 9110, 8.4.1 and 15.5.16)."""
    coding = request.headers.get("content-encoding", "").strip().lower()
    if coding not in {"", "identity"}:
        raise HTTPException(
            status_code=415,
            detail="Send the body as it is, without a Content-Encoding",
            headers={"Accept-Encoding": "identity"},
        )


def _check_query(request: Request[Any, Any, Any], handler: HTTPRouteHandler) -> None:
    try:
        unquote_to_bytes(request.scope["query_string"]).decode()
    except UnicodeDecodeError as error:
        raise ClientException("The query is not UTF-8 text") from error
    allowed = set(wire_names(handler, ParamType.QUERY).values())
    found = []
    for name in sorted(set(request.query_params)):
        if name not in allowed:
            hint = f"known here: {', '.join(sorted(allowed))}" if allowed else "none is known here"
            found.append({"key": name, "message": f"Unknown parameter; {hint}"})
        elif len(values := request.query_params.getall(name)) > 1:
            found.append({"key": name, "message": f"Given {len(values)} times, expected once"})
        elif "\0" in values[0]:
            found.append({"key": name, "message": "Expected text without NUL characters"})
        elif values[0] in {"", "null"}:
            found.append({"key": name, "message": "Has no value; leave it out instead"})
    if found:
        raise ValidationException(detail="unknown or repeated parameter", extra=found)
