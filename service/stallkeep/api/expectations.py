"""What was expected where something else was sent, in words for the problem document."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, Final

from msgspec import inspect

_AMOUNT: Final = "[0-9]{1,13}"
_PATTERNS: Final = {
    "^[0-9]{1,13}": 'Expected an amount of 0 or more with all its decimals, such as "12.50"',
    _AMOUNT: 'Expected an amount with all its decimals, such as "12.50"',
    "[0-9]{1,6}": 'Expected a distance with a tenth at most, such as "126.4"',
    "[0-9]{1,5}": 'Expected an amount per kilometre or mile, such as "0.555"',
    "[0-9]{1,3}": 'Expected per cent as a decimal string, such as "2.75"',
    "[a-z]{2}": "Expected a language code of two small letters, such as 'en'",
    "x1f": "Expected text without control characters",
    "x00": "Expected text without NUL characters",
}
_KINDS: Final = {
    "int": "a whole number",
    "float": "a number",
    "str": "text",
    "bool": "true or false",
    "array": "a list",
    "object": "an object",
    "date": "a date such as 2026-05-09",
    "datetime": "a moment such as 2026-05-09T10:15:00+01:00",
    "time": "a time such as 09:30:00",
    "uuid": "a UUID",
}
_FORMS: Final = {
    "Invalid RFC3339 encoded date": "Expected a day of the calendar, such as 2026-05-09",
    "Invalid RFC3339 encoded datetime": "Expected a moment such as 2026-05-09T10:15:00+01:00",
    "Invalid RFC3339 encoded time": "Expected a time with its seconds, such as 09:30:00",
}
_QUOTED: Final = re.compile("`([a-z]+(?: \\| [a-z]+)*)`")
_MISSING: Final = re.compile(r"^Object missing required field `(.*)`$")
_UNKNOWN: Final = re.compile(r"^Object contains unknown field `(.*)`$")


def reword(message: str, kind: Any, steps: Sequence[str]) -> tuple[str, list[str]]:  # noqa: ANN401
    """Say in words what the decoder found.

    Args:
        message: The decoder's, without the place.
        kind: Type of the whole that was decoded.
        steps: Way from the root to where it stopped.

    Returns:
        What was expected, and the way to the field at fault.
    """
    if (form := _form(message, kind, steps)) is not None:
        return form, [*steps]
    if missing := _MISSING.match(message):
        return "Expected this field, which is missing", [*steps, missing[1]]
    if unknown := _UNKNOWN.match(message):
        known = ", ".join(_fields(_find(inspect.type_info(kind), steps)))
        return f"Unknown field; known here: {known}", [*steps, unknown[1]]
    if message.startswith("Invalid enum value"):
        words = " or ".join(_words(_find(inspect.type_info(kind), steps)))
        return f"Expected {words}", [*steps]
    return _QUOTED.sub(_in_words, message).replace("`", "'"), [*steps]


def _form(message: str, kind: Any, steps: Sequence[str]) -> str | None:  # noqa: ANN401 - likewise
    """Say which form a text should have had."""
    if message in _FORMS:
        return _FORMS[message]
    if "matching regex" in message:
        return next((words for part, words in _PATTERNS.items() if part in message), None)
    if message.startswith("Expected `str") and _is_amount(_find(inspect.type_info(kind), steps)):
        return 'Expected an amount as text, in quotation marks: "12.50"'
    return None


def _is_amount(kinds: Sequence[inspect.Type]) -> bool:
    return any(
        isinstance(kind, inspect.StrType) and _AMOUNT in (kind.pattern or "") for kind in kinds
    )


def _in_words(quoted: re.Match[str]) -> str:
    return " or ".join(_KINDS.get(kind, kind) for kind in quoted[1].split(" | "))


def _find(kind: inspect.Type, steps: Sequence[str]) -> list[inspect.Type]:
    """Walk from a type to those that a place inside it may have."""
    if isinstance(kind, inspect.Metadata):
        return _find(kind.type, steps)
    if isinstance(kind, inspect.UnionType):
        return [found for one in kind.types for found in _find(one, steps)]
    if not steps:
        return [kind]
    if isinstance(kind, inspect.StructType):
        fields = [field for field in kind.fields if field.encode_name == steps[0]]
        return [found for field in fields for found in _find(field.type, steps[1:])]
    if isinstance(kind, inspect.ListType):
        return _find(kind.item_type, steps[1:])
    return []


def _fields(kinds: Sequence[inspect.Type]) -> list[str]:
    return [
        field.encode_name
        for kind in kinds
        if isinstance(kind, inspect.StructType)
        for field in kind.fields
    ]


def _words(kinds: Sequence[inspect.Type]) -> list[str]:
    return [
        str(value)
        for kind in kinds
        if isinstance(kind, inspect.LiteralType)
        for value in kind.values
    ]
