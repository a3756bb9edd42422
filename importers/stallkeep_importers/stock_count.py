"""A stock count: the tag codes that came home."""

from __future__ import annotations

from collections.abc import Sequence

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.cells.money import unwrapped
from stallkeep_importers.contract import Counted, Outcome
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.cell_faults import no_count
from stallkeep_importers.rows.column_questions import ask_columns
from stallkeep_importers.rows.flags import answer_of
from stallkeep_importers.rows.profiles import Profile, names
from stallkeep_importers.rows.readings import Convert
from stallkeep_importers.rows.row_ids import DAMAGED
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
        _ask_about_ticks(sheet)
        place = sheet.places.get("quantity")
        has_ticks = place is not None and _are_ticks([row[place] for row in sheet.table.sample])

        def counted(block: Block) -> list[Outcome]:
            return _counted(block, has_ticks=has_ticks)

        return counted


def _ask_about_ticks(sheet: Sheet) -> None:
    """Ask whether a column of yes and no says which pieces were there.

    Raises:
        QuestionError: There is such a column, and nobody has said what it is.
    """
    if "quantity" in sheet.places or "quantity" in sheet.options.columns:
        return
    for place, header in sheet.more:
        cells = [row[place] for row in sheet.table.sample]
        if _are_ticks(cells) and {"yes", "no"} <= set(map(answer_of, cells)):
            question = ask_columns(sheet.table.headings, ["quantity"], sheet.table.sample)
            question.code = "column-unclear"
            question.detail = f"The column “{header}” may say which pieces were there."
            question.advice = (
                f"Say quantity={header} if it does, and quantity= with nothing "
                "behind it if every piece on the list was there."
            )
            raise question


def _are_ticks(cells: Sequence[str]) -> bool:
    """Say whether cells are yes and no, in words or ticks, and not only in numbers."""
    filled = {cell.strip() for cell in cells if cell.strip()}
    return None not in map(answer_of, filled) and not all(map(str.isdigit, filled))


def _counted(block: Block, *, has_ticks: bool) -> list[Outcome]:
    codes, days = block.texts("tag_code"), block.dates("date")
    if has_ticks:
        quantities = [int(answer_of(cell) == "yes") for cell in block.cells("quantity")]
        for place, cell in enumerate(block.cells("quantity")):
            if answer_of(cell) is None:
                block.fault(place, "quantity", no_count(cell))
    else:
        quantities = block.counts("quantity")
    found: list[Outcome] = []
    for place, code in enumerate(codes):
        refuse_no_code(block, place, code or "")
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


def refuse_no_code(block: Block, place: int, code: str) -> None:
    """Note a row without a tag code, or with one that a spreadsheet has made a number of."""
    if not code.strip():
        block.fault(place, "tag_code", _NO_CODE)
    elif DAMAGED.fullmatch(code.strip()):
        block.fault(place, "tag_code", _DAMAGED_CODE)


_NO_CODE = Fault("tag-code-missing", "The row has no tag code.", "Add the code from the tag.")
_DAMAGED_CODE = Fault(
    "tag-code-damaged",
    "A spreadsheet has turned the tag code into a number and lost some of its digits.",
    "Type the code from the tag, and let the spreadsheet treat the column as text.",
)
