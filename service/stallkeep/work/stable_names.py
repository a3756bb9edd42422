"""Ids that say the same in every database, so that the same evidence gives the same answer.

Ids of rows are made at random; an engine that draws samples seeded by its evidence would answer a
little differently for the same shop restored elsewhere. So it is shown tag codes and row keys.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

import msgspec

S = TypeVar("S", bound=msgspec.Struct)


def renamed(struct: S, names: Mapping[str, str]) -> S:
    """Replace every text that is a key of *names*, wherever it stands in a struct.

    Args:
        struct: Of plain data.
        names: Text → its replacement; keys must be texts that can be nothing else.
    """
    plain = msgspec.to_builtins(struct)
    return msgspec.convert(_replaced(plain, names), type(struct))


def backwards(names: Mapping[str, str]) -> dict[str, str]:
    """Turn names around.

    Raises:
        ValueError: Two ids have one name.
    """
    turned = {name: key for key, name in names.items()}
    if len(turned) != len(names):
        raise ValueError("two ids have one name")
    return turned


def _replaced(value: Any, names: Mapping[str, str]) -> Any:  # noqa: ANN401 - plain data
    if isinstance(value, str):
        return names.get(value, value)
    if isinstance(value, list | tuple):
        return [_replaced(one, names) for one in value]
    if isinstance(value, dict):
        return {key: _replaced(one, names) for key, one in value.items()}
    return value
