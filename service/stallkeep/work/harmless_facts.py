"""What an importer says of a file it asks about, without the personal data it may show."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from stallkeep_importers.cells.personal import kind_by_cells, kind_by_heading
from stallkeep_importers.tables.headings import heading


def harmless_facts(facts: Mapping[str, object]) -> dict[str, Any]:
    """Leave out the example cells of columns that hold personal data.

    Such facts are stored with the failed import, shown, and written into reports.
    """
    columns = facts.get("columns")
    if not isinstance(columns, list | tuple):
        return dict(facts)
    return {**facts, "columns": [_harmless(column) for column in columns]}


def _harmless(column: object) -> object:
    if not isinstance(column, Mapping) or not column.get("examples"):
        return column
    cells = [str(cell) for cell in column["examples"]]
    plain = heading(str(column.get("header", ""))).plain
    if kind_by_heading(plain, cells) is None and kind_by_cells(cells) is None:
        return column
    return {**column, "examples": []}
