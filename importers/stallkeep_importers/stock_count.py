"""A stock count: the tag codes that came home."""

from __future__ import annotations

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.cells.money import unwrapped
from stallkeep_importers.contract import Counted, Outcome
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.profiles import Profile, names
from stallkeep_importers.rows.readings import Convert
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.table_importer import TableImporter


class StockCount(TableImporter):
    """One row is one tag code that was counted."""

    name = "stock-count"
    title = "Stock count"
    gives = frozenset({"counted"})
    profile = Profile(
        fields=names("tag_code quantity date title note"),
        needs=(("tag_code",),),
        speaks_for={
            "quantity": 0.2,
            "date": 0.05,
            "price": -0.35,
            "amount": -0.5,
            "total": -0.5,
            "reference": -0.4,
            "state": -0.3,
            "external_id": -0.2,
            "fee": -0.5,
            "time": -0.05,
        },
        guessed=frozenset({"date", "tag_code"}),
        file_words=("count", "zahlung-bestand", "inventur", "bestand", "home"),
    )

    def rows(self, sheet: Sheet) -> Convert:
        return _counted


def _counted(block: Block) -> list[Outcome]:
    codes, quantities, days = block.texts("tag_code"), block.counts("quantity"), block.dates("date")
    found: list[Outcome] = []
    for place, code in enumerate(codes):
        if not code or not code.strip():
            block.fault(place, "tag_code", NO_CODE)
        found.append(
            Counted(
                record=block.records[place],
                line=block.lines[place],
                tag_code=unwrapped(code or ""),
                quantity=quantities[place],
                counted_on=days[place],
            )
        )
    return found


NO_CODE = Fault("tag-code-missing", "The row has no tag code.", "Add the code from the tag.")
