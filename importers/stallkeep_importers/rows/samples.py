"""The first rows of a file, which tell how the others are read."""

from __future__ import annotations

from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.states import was_tried


def sheet_sample(sheet: Sheet) -> Block:
    """Give the sample's rows as a block of their own, tries that came to nothing left out."""
    rows = [row for row in sheet.table.sample if not was_tried(sheet, row)]
    return Block(sheet, rows, range(len(rows)), range(len(rows)))
