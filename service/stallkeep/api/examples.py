"""Example values for the documents' schemas, so that a request can be tried as pasted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

Schema = Mapping[str, Any]

_BY_FORMAT: Final = {
    "uuid": "019f1c2e-7b1a-7c3d-9e4f-5a6b7c8d9e0f",
    "date": "2026-05-09",
    "date-time": "2026-05-09T10:15:00+01:00",
    "time": "09:30:00",
}
_DEEPEST: Final = 6


def example(schema: Schema, components: Mapping[str, Schema], *, depth: int = 0) -> Any:  # noqa: ANN401
    """Make a value that *schema* accepts: required fields, and those that say more than null.

    Args:
        schema: JSON Schema, as msgspec writes it.
        components: What ``$ref`` refers to, by the last part of the reference.
        depth: How far inside it is; too deep gives null.
    """
    if depth > _DEEPEST:
        return None
    inner = _inside(schema, components)
    if inner is not None:
        return example(inner, components, depth=depth + 1)
    for word in ("examples", "enum"):
        if schema.get(word):
            return schema[word][0]
    if schema.get("type") == "object":
        return _object(schema, components, depth)
    if "items" in schema:
        return [example(schema["items"], components, depth=depth + 1)]
    return _plain(schema)


def _inside(schema: Schema, components: Mapping[str, Schema]) -> Schema | None:
    if "$ref" in schema:
        return components[schema["$ref"].rpartition("/")[2]]
    found: Schema | None = schema["anyOf"][0] if "anyOf" in schema else None
    return found


def _object(schema: Schema, components: Mapping[str, Schema], depth: int) -> dict[str, Any]:
    required = set(schema.get("required", ()))
    fields = schema.get("properties", {})
    shown = [
        name
        for name, field in fields.items()
        if name in required or (not required and "default" not in field)
    ]
    return {name: example(fields[name], components, depth=depth + 1) for name in shown}


def _plain(schema: Schema) -> Any:  # noqa: ANN401 - a value of any plain kind
    kind = schema.get("type")
    if schema.get("format") in _BY_FORMAT:
        return _BY_FORMAT[schema["format"]]
    if kind == "string":
        return "text"
    if kind in ("integer", "number"):
        return schema.get("minimum", 1) or 1
    return True if kind == "boolean" else []
