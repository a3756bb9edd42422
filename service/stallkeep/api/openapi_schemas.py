"""JSON Schemas of the types that requests and answers are made of."""

from __future__ import annotations

import re
from typing import Any, Final

import msgspec

from stallkeep.api.body_examples import BODIES

_TEMPLATE: Final = "#/components/schemas/{name}"
_PAGE: Final = re.compile(r"\bPage_(\w+?)_(?=\"|$)")
_TRAILING_LINE: Final = r"$(?!\\n)"


class Schemas:
    """Collects types while operations are described, then describes all of them together."""

    def __init__(self) -> None:
        self._kinds: list[Any] = []

    def of(self, kind: Any) -> dict[str, Any]:  # noqa: ANN401 - a type or an annotation
        """Give the schema of *kind*, a reference where it has a name."""
        self._kinds.append(kind)
        [schema], _ = msgspec.json.schema_components([kind], ref_template=_TEMPLATE)
        return _tidy(schema)

    def components(self) -> dict[str, Any]:
        """Give every named schema that was referred to."""
        _, components = msgspec.json.schema_components(self._kinds, ref_template=_TEMPLATE)
        for name, schema in components.items():
            first, _, _ = str(schema.get("description", "")).partition("\n\n")
            schema["description"] = " ".join(first.split())
            if name in BODIES:
                schema["examples"] = [BODIES[name]]
        return dict(sorted(_tidy(components).items()))


def _tidy(schema: dict[str, Any]) -> dict[str, Any]:
    """Say "ItemPage" for a page of items, and `$` for an end that our patterns pin down further."""
    text = msgspec.json.encode(schema).decode().replace(_TRAILING_LINE, "$")
    tidy: dict[str, Any] = msgspec.json.decode(_PAGE.sub(r"\1Page", text))
    return tidy
