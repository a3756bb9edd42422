"""What a client says about a file beforehand: its columns, and answers to questions."""

from __future__ import annotations

from typing import Annotated, Any

import msgspec
from litestar.exceptions import ValidationException
from litestar.params import QueryParameter

Columns = Annotated[
    str | None,
    QueryParameter(
        max_length=4000,
        description='JSON object: field to header, such as {"amount":"Betrag"}; "#3" is column 3',
    ),
]
Answers = Annotated[
    str | None,
    QueryParameter(
        max_length=2000,
        description='JSON object: further answers, such as {"date_order":"dmy"}',
    ),
]


def read_answers(columns: str | None, answers: str | None) -> dict[str, Any]:
    """Read the two JSON parameters of an import.

    Raises:
        ValidationException: One is no JSON object of the right kind.
    """
    given: dict[str, Any] = {}
    if answers is not None:
        given |= _json("answers", answers, dict[str, Any])
    if columns is not None:
        given["columns"] = _json("columns", columns, dict[str, str])
    return given


def _json(name: str, text: str, kind: Any) -> dict[str, Any]:  # noqa: ANN401 - a type
    try:
        found: dict[str, Any] = msgspec.json.decode(text, type=kind)
    except msgspec.DecodeError as error:
        raise ValidationException(
            extra=[{"key": name, "message": f"Expected a JSON object: {error}"}]
        ) from error
    if "\\u0000" in msgspec.json.encode(found).decode():
        raise ValidationException(
            extra=[{"key": name, "message": "Expected text without NUL characters"}]
        )
    return found
