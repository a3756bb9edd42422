"""Arrays written as text arrive as they were."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import UUID

import pytest
from tests.database import Clone

from stallkeep.store.array_text import array_text

ARRAYS: list[tuple[str, list[Any]]] = [
    (
        "text",
        ["", "a b", 'say "so"', "back\\slash", "{x,y}", "NULL", None, "zwei\nZeilen\t", "é 漢 ☂"],
    ),
    ("bigint", [0, -1, 2**63 - 1, None]),
    ("float8", [0.1, 1e-300, 1 / 3, None]),
    ("date", [dt.date(2026, 2, 28), None]),
    ("timestamptz", [dt.datetime(2026, 2, 28, 1, 2, 3, 4, dt.UTC), None]),
    ("uuid", [UUID(int=1), UUID(int=2**128 - 1), None]),
    ("text", []),
]


@pytest.mark.parametrize(("kind", "values"), ARRAYS)
async def test_an_array_arrives_as_it_was(database: Clone, kind: str, values: list[Any]) -> None:
    async with database.pool.acquire() as con:
        found = await con.fetchval(f"select $1::text::{kind}[]", array_text(values))
    assert list(found) == values
