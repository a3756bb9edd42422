"""Every refusal as a problem document (RFC 9457), and the only table of statuses."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from http import HTTPStatus
from typing import Any, get_type_hints

import asyncpg
import msgspec
import structlog
from litestar import Request, Response
from litestar.exceptions import HTTPException, ValidationException

from stallkeep.api.expectations import reword
from stallkeep.api.parameters import wire_names
from stallkeep.domain import errors
from stallkeep.store.engine import LOST, NO_ROOM, NOT_REACHED, DatabaseUnavailableError, NoRoomError

log = structlog.get_logger()

PREFIX = "https://stallkeep.example/problems/"
"""What every `type` begins with, on every installation; each serves the page at /problems/."""

MEDIA_TYPE = "application/problem+json"

STATUS: Mapping[type[errors.StallkeepError], int] = {
    errors.NotFoundError: 404,
    errors.NotAllowedError: 403,
    errors.ConflictError: 409,
    errors.StaleVersionError: 412,
    errors.RejectedInputError: 422,
    errors.UnavailableError: 503,
}


class FieldError(msgspec.Struct, omit_defaults=True):
    """What is wrong with one field of the body or one parameter, and what was expected."""

    detail: str
    pointer: str | None = None
    parameter: str | None = None


class Problem(msgspec.Struct):
    """Why a request was not met (RFC 9457). Further members carry facts, each named in `detail`."""

    type: str
    title: str
    status: int
    detail: str
    instance: str | None = None
    errors: list[FieldError] | None = None


def status_of(kind: type[errors.StallkeepError]) -> int:
    """Find the status of an error class through its category."""
    return next((STATUS[base] for base in kind.__mro__ if base in STATUS), 500)


def _document(request: Request[Any, Any, Any], **members: object) -> dict[str, object]:
    request_id = request.scope.get("request_id")
    instance = {"instance": f"urn:uuid:{request_id}"} if request_id else {}
    return {**members, **instance}


def _response(
    request: Request[Any, Any, Any],
    status: int,
    members: Mapping[str, object],
    headers: Mapping[str, str] | None = None,
) -> Response[bytes]:
    body = msgspec.json.encode(_document(request, **members))
    return Response(body, status_code=status, media_type=MEDIA_TYPE, headers=dict(headers or {}))


def known(request: Request[Any, Any, Any], error: errors.StallkeepError) -> Response[bytes]:
    """Answer with one of our own errors."""
    reason = error.__cause__
    if isinstance(named := stored(error), errors.StallkeepError):
        error = named
    status = status_of(type(error))
    if status == HTTPStatus.SERVICE_UNAVAILABLE:
        log.warning("request_not_met", code=error.code, reason=str(reason or error.detail))
    members = {
        "type": PREFIX + error.code,
        "title": error.title,
        "status": status,
        "detail": error.detail,
    }
    # A fact of the same name, such as the type of a file, takes no member's place (RFC 9457, 3.2).
    members |= {name: fact for name, fact in error.facts.items() if name not in members}
    headers = {"Link": f'</problems/{error.code}>; rel="help"'}
    return _response(request, status, members, headers)


def refused(request: Request[Any, Any, Any], error: HTTPException) -> Response[bytes]:
    """Answer with a refusal of the framework: its status says all, so the type is about:blank."""
    members: dict[str, object] = {
        "type": "about:blank",
        "title": HTTPStatus(error.status_code).phrase,
        "status": error.status_code,
        "detail": error.detail,
    }
    if isinstance(error, ValidationException):
        found = _parameters(request, error.extra)
        if found:
            members["detail"] = "A parameter is not as expected"
            members["errors"] = found
    return _response(request, error.status_code, members, error.headers)


def broken(request: Request[Any, Any, Any], error: Exception) -> Response[bytes]:
    """Answer for anything nobody foresaw, showing nothing of the inside."""
    if isinstance(named := stored(error), errors.StallkeepError):
        named.__cause__ = error
        return known(request, named)
    log.error("request_failed", exc_info=error)
    members = {
        "type": "about:blank",
        "title": HTTPStatus(500).phrase,
        "status": 500,
        "detail": "The service failed at this; its log has more under the instance given here",
    }
    return _response(request, 500, members)


def stored(error: BaseException) -> BaseException:
    """Name a refusal of the database as one of our errors; any other error is handed back."""
    if _is_unstorable(error):
        return errors.UnstorableValueError(
            "A text holds a character, or a number or date is of a size, that cannot be stored"
        )
    if isinstance(error, asyncpg.IntegrityConstraintViolationError):
        return errors.ConflictError(
            "What is stored does not allow this", constraint=error.constraint_name
        )
    if isinstance(error, asyncpg.TransactionRollbackError):
        return errors.UnavailableError("Somebody else was changing the same thing; try again")
    if isinstance(error, LOST):
        return DatabaseUnavailableError(NOT_REACHED)
    if isinstance(error, asyncpg.InsufficientResourcesError):
        return NoRoomError(NO_ROOM)
    return error


def _is_unstorable(error: BaseException | None) -> bool:
    """A value the server refuses; or the driver, whose error is a ValueError and "interface" too.

    The engine takes every interface error for a lost connection, so its cause is looked at.
    """
    if isinstance(error, DatabaseUnavailableError):
        error = error.__cause__
    of_driver = isinstance(error, asyncpg.InterfaceError) and isinstance(error, ValueError)
    return of_driver or isinstance(error, asyncpg.DataError | OverflowError)


def _parameters(request: Request[Any, Any, Any], extra: object) -> list[FieldError]:
    handler = request.scope.get("route_handler")
    names = wire_names(handler) if handler else {}
    hints = get_type_hints(handler.fn, include_extras=True) if handler else {}
    found = []
    for each in extra if isinstance(extra, list) else []:
        key = str(each.get("key", ""))
        detail, _ = reword(str(each.get("message", "")), hints.get(key, str), ())
        found.append(FieldError(detail=detail, parameter=names.get(key, key)))
    return found


_PLACE = re.compile(r" - at `(?P<place>[^`]*)`$")
_STEP = re.compile(r"\.([^.\[]+)|\[(\d+|\.\.\.)\]")


def invalid(error: msgspec.ValidationError, kind: Any) -> errors.InvalidInputError:  # noqa: ANN401
    """Turn what the decoder found into a field error with its JSON Pointer (RFC 6901).

    Args:
        error: As msgspec raised it.
        kind: Type that was decoded.
    """
    text = str(error)
    place = _PLACE.search(text)
    steps = [
        name or index
        for name, index in _STEP.findall(place["place"] if place else "")
        if index != "..."
    ]
    return field_error(*reword(_PLACE.sub("", text), kind, steps))


def field_error(detail: str, steps: Sequence[str | int]) -> errors.InvalidInputError:
    """Build the error for one field of the body, *steps* being the way to it from the root."""
    path = "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in steps)
    return error_of([FieldError(detail=detail, pointer=f"#{path}")])


def error_of(faults: Sequence[FieldError]) -> errors.InvalidInputError:
    """Build the error for several fields of the body, at least one."""
    told = "; ".join(f"{fault.detail} (at {fault.pointer})" for fault in faults)
    return errors.InvalidInputError(told, errors=list(faults))


HANDLERS: dict[int | type[Exception], Any] = {
    errors.StallkeepError: known,
    HTTPException: refused,
    Exception: broken,
}
