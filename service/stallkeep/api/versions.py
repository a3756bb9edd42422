"""ETag and If-Match (RFC 9110): a strong tag holding the row's version."""

from __future__ import annotations

import re
from typing import Annotated

from litestar.exceptions import ClientException, HTTPException
from litestar.params import HeaderParameter

from stallkeep.work.versions import ANY, Expected

_VERSION = re.compile("[0-9]{1,9}")
_TAG = re.compile(r'(W/)?"([^"]*)"')
_LIST = re.compile(rf"\s*{_TAG.pattern}\s*(,\s*{_TAG.pattern}\s*)*")


def etag(version: int) -> str:
    """Write the tag of a version."""
    return f'"{version}"'


def read_if_match(value: str) -> Expected:
    """Read an If-Match header. A weak tag, or one we never gave, expects a version nobody has.

    Raises:
        ClientException: It is no list of entity tags.
    """
    if value.strip() == "*":
        return ANY
    if not _LIST.fullmatch(value):
        raise ClientException('If-Match is no list of entity tags such as "3"')
    strong = [tag for weak, tag in _TAG.findall(value) if not weak]
    return Expected(frozenset(int(tag) for tag in strong if _VERSION.fullmatch(tag)))


IfMatch = Annotated[
    str | None,
    HeaderParameter(
        name="If-Match",
        description='The ETag of what was read, such as "3", or *',
        schema_extra={"pattern": r'^\s*(\*|(W/)?"[^"]*"(\s*,\s*(W/)?"[^"]*")*)\s*$'},
    ),
]


async def expected(if_match: IfMatch = None) -> Expected:
    """Give what the client expects to change.

    Raises:
        HTTPException: 428, there is no If-Match.
    """
    if if_match is None:
        raise HTTPException(
            status_code=428, detail="Send If-Match with the ETag of what you read, or *"
        )
    return read_if_match(if_match)
