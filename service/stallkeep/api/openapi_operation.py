"""One operation of the OpenAPI document: from a handler's signature and docstring."""

from __future__ import annotations

import inspect
import types
from collections.abc import Iterator
from http import HTTPStatus
from typing import Annotated, Any, Final, Union, get_args, get_origin, get_type_hints

from litestar import Response
from litestar.enums import ParamType
from litestar.handlers import HTTPRouteHandler
from litestar.params import ParameterKwarg
from litestar.routes import HTTPRoute
from litestar.types import Empty

from stallkeep.api.auth import HELPER, OPEN
from stallkeep.api.openapi_schemas import Schemas
from stallkeep.api.pages import Page
from stallkeep.api.strictness import media_types

REFUSALS: Final = {
    400: ("BadRequest", "Not JSON, or a parameter is not as expected"),
    401: ("Unauthorized", "No token, or one that nobody has"),
    403: ("Forbidden", "A helper's token is not enough"),
    404: ("NotFound", "The shop has no such thing"),
    409: ("Conflict", "It contradicts what is stored"),
    412: ("StaleVersion", "It has changed since it was read"),
    413: ("TooLarge", "The body is too large"),
    415: ("WrongMediaType", "The body is of another media type"),
    422: ("RejectedInput", "A field is not as expected, or what is asked cannot be"),
    428: ("VersionMissing", "If-Match is missing"),
    503: ("Unavailable", "The database does not answer"),
}
_CONSTRAINTS: Final = {
    "ge": "minimum",
    "le": "maximum",
    "min_length": "minLength",
    "max_length": "maxLength",
    "pattern": "pattern",
}
_HEADERS: Final = {
    "ETag": "Version of what is shown, for If-Match",
    "Link": 'The next page, as rel="next"; not there on the last',
    "Location": "Where the new thing is",
}


def describe(
    route: HTTPRoute, method: str, handler: HTTPRouteHandler, schemas: Schemas
) -> dict[str, Any]:
    """Describe what a method does on a path."""
    summary, _, more = inspect.cleandoc(handler.fn.__doc__ or "").partition("\n")
    parameters = [*_parameters(handler.fn, schemas)]
    for name in handler.parsed_fn_signature.parameters:
        if given := handler.resolve_dependencies().get(name):
            parameters += _parameters(given.dependency, schemas)
    operation: dict[str, Any] = {
        "operationId": handler.operation_id,
        "tags": list(handler.tags or ()),
        "summary": summary.removesuffix("."),
        "description": more.strip() or summary,
        "parameters": [*{(one["in"], one["name"]): one for one in parameters}.values()],
    }
    if body := _body(handler, schemas):
        operation["requestBody"] = body
    operation["responses"] = {
        **(done := _success(route, method, handler, schemas)),
        **(_accepted(done) if "later" in handler.opt else {}),
        **{
            str(status): {"$ref": f"#/components/responses/{REFUSALS[status][0]}"}
            for status in sorted(_refusals(method, handler, operation))
        },
    }
    if handler.opt.get(OPEN):
        operation["security"] = []
    return operation


def _parameters(function: Any, schemas: Schemas) -> Iterator[dict[str, Any]]:  # noqa: ANN401
    defaults = inspect.signature(function).parameters
    for name, hint in get_type_hints(function, include_extras=True).items():
        for mark in get_args(hint)[1:] if get_origin(hint) is Annotated else ():
            if isinstance(mark, ParameterKwarg):
                yield _parameter(name, hint, mark, defaults[name].default, schemas)


def _parameter(
    name: str,
    hint: Any,  # noqa: ANN401 - an annotation
    mark: ParameterKwarg,
    default: Any,  # noqa: ANN401 - of the parameter
    schemas: Schemas,
) -> dict[str, Any]:
    schema = dict(schemas.of(_without_null(get_args(hint)[0])))
    schema |= {
        word: getattr(mark, ours)
        for ours, word in _CONSTRAINTS.items()
        if getattr(mark, ours) is not None
    } | (mark.schema_extra or {})
    if default not in (None, inspect.Parameter.empty):
        schema["default"] = default
    place = mark.param_type
    described = {"description": mark.description} if mark.description else {}
    return {
        "name": mark.name or name,
        "in": place.value,
        **described,
        "required": place is ParamType.PATH
        or mark.name == "If-Match"
        or default is inspect.Parameter.empty,
        "schema": schema,
    }


def _without_null(hint: Any) -> Any:  # noqa: ANN401 - an annotation
    """A parameter is there or not; it is never null."""
    if get_origin(hint) in (Union, types.UnionType):
        return Union[tuple(part for part in get_args(hint) if part is not types.NoneType)]  # noqa: UP007
    return hint


def takes_file(handler: HTTPRouteHandler) -> bool:
    """Tell whether the body is a file: a route that takes one says how large it may be."""
    return handler.request_max_body_size is not Empty and handler.parsed_data_field is None


def _body(handler: HTTPRouteHandler, schemas: Schemas) -> dict[str, Any] | None:
    if takes_file(handler):
        plain = {"schema": {"type": "string", "contentMediaType": "text/csv"}}
        content = {"text/csv": plain, "application/octet-stream": {}}
        return {"required": True, "content": content, "description": "The file itself"}
    if handler.parsed_data_field is None:
        return None
    schema = schemas.of(get_args(get_type_hints(handler.fn, include_extras=True)["data"])[0])
    content = {kind: {"schema": schema} for kind in media_types(handler)}
    return {"required": True, "content": content}


def _success(
    route: HTTPRoute, method: str, handler: HTTPRouteHandler, schemas: Schemas
) -> dict[str, Any]:
    shown = get_type_hints(handler.fn)["return"]
    if get_origin(shown) is Response:
        shown = get_args(shown)[0]
    status = handler.status_code
    answer: dict[str, Any] = {"description": HTTPStatus(status).phrase}
    if shown is types.NoneType:
        return {str(status): answer}
    names = _headers(route, method, handler, shown)
    if names:
        answer["headers"] = {
            name: {"description": _HEADERS[name], "schema": {"type": "string"}} for name in names
        }
    if shown is bytes:
        answer["content"] = {
            kind: {"schema": {"type": "string", "contentMediaType": kind}}
            for kind in handler.opt["media_types"]
        }
        return {str(status): answer}
    answer["content"] = {"application/json": {"schema": schemas.of(shown)}}
    return {str(status): answer}


def _accepted(done: dict[str, Any]) -> dict[str, Any]:
    answer = next(iter(done.values()))
    return {"202": {**answer, "description": "It goes on; read how far it has come at Location"}}


def _headers(
    route: HTTPRoute,
    method: str,
    handler: HTTPRouteHandler,
    shown: Any,  # noqa: ANN401 - a type
) -> list[str]:
    if get_origin(shown) is Page:
        return ["Link"]
    names = ["Location"] if handler.status_code == HTTPStatus.CREATED else []
    can_change = any("PATCH" in one.http_methods for one in route.route_handlers)
    if "expected" in handler.parsed_fn_signature.parameters or (method == "GET" and can_change):
        names.append("ETag")
    return names


def _refusals(method: str, handler: HTTPRouteHandler, operation: dict[str, Any]) -> Iterator[int]:
    yield from (400, 503)
    if handler.opt.get(OPEN):
        return
    yield 401
    if not handler.opt.get(HELPER):
        yield 403
    if any(one["in"] == "path" for one in operation["parameters"]) or method == "POST":
        yield 404
    if method != "GET":
        yield 409
    if "requestBody" in operation:
        yield from (413, 415)
    if operation["parameters"] or "requestBody" in operation:
        yield 422
    if "expected" in handler.parsed_fn_signature.parameters:
        yield from (412, 428)
