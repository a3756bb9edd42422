"""Keyset pages: an opaque cursor names the last row seen, so a deep page costs what the first does.

A route asks its query for one row more than the limit; the extra row only says that there is more.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable, Sequence
from typing import Annotated, Any, Generic, TypeVar
from urllib.parse import urlencode

import msgspec
from litestar import Request, Response
from litestar.exceptions import ValidationException
from litestar.params import QueryParameter

Row = TypeVar("Row")
Shown = TypeVar("Shown")
Key = TypeVar("Key")

DEFAULT_LIMIT = 50
MAXIMUM_LIMIT = 200

Limit = Annotated[
    int, QueryParameter(ge=1, le=MAXIMUM_LIMIT, description="Most entries on the page")
]
Cursor = Annotated[
    str | None,
    QueryParameter(max_length=500, description="Where to go on: from the Link of the page before"),
]


class Page(msgspec.Struct, Generic[Shown]):
    """One page of a list; `next` is the cursor of the following one, null on the last."""

    data: list[Shown]
    next: str | None


def write_cursor(key: Sequence[object]) -> str:
    """Write the sort key of a row as an opaque text for a URL."""
    return base64.urlsafe_b64encode(msgspec.json.encode(tuple(key))).decode().rstrip("=")


def read_cursor(cursor: str | None, key: type[Key]) -> Key | None:
    """Read a cursor back into *key*, a tuple type; None for the first page.

    Raises:
        ValidationException: It was not given by the service.
    """
    if cursor is None:
        return None
    try:
        raw = base64.b64decode(cursor + "=" * (-len(cursor) % 4), altchars=b"-_", validate=True)
        return msgspec.json.decode(raw, type=key)
    except (binascii.Error, ValueError) as error:
        raise ValidationException(
            extra=[{"key": "cursor", "message": "Not a cursor that this list has given"}]
        ) from error


def page(
    request: Request[Any, Any, Any],
    rows: Sequence[Row],
    limit: int,
    show: Callable[[Row], Shown],
    key: Callable[[Row], Sequence[object]],
) -> Response[Page[Shown]]:
    """Answer with at most *limit* of *rows* and, if there are more, the way to the next page.

    Args:
        request: The request being answered, for the address of the next page.
        rows: At most limit + 1 rows, in order.
        limit: As the client asked.
        show: Row → what the client sees.
        key: Row → its sort key, as the route's cursor type reads it back.
    """
    shown = rows[:limit]
    cursor = write_cursor(key(shown[-1])) if len(rows) > limit else None
    headers = {"Link": f'<{_next(request, cursor)}>; rel="next"'} if cursor else {}
    return Response(Page([show(row) for row in shown], cursor), headers=headers)


def _next(request: Request[Any, Any, Any], cursor: str) -> str:
    kept = [(name, value) for name, value in request.query_params.multi_items() if name != "cursor"]
    return f"{request.url.path}?{urlencode([*kept, ('cursor', cursor)])}"
