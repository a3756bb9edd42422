"""Stubs torn off the tags of what was sold, in the order of selling."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.cells.money import unwrapped
from stallkeep_importers.contract import Outcome, Stub
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.profiles import Profile, names
from stallkeep_importers.rows.readings import Convert
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.table_importer import TableImporter
from stallkeep_importers.stock_count import refuse_no_code


class Stubs(TableImporter):
    """One row is one stub."""

    name = "stubs"
    title = "Stubs of sold pieces"
    gives = frozenset({"stub"})
    profile = Profile(
        fields=names("tag_code price amount date currency title note"),
        needs=(("tag_code",),),
        speaks_for={
            "price": 0.15,
            "date": 0.05,
            "quantity": -0.25,
            "total": -0.4,
            "amount": -0.05,
            "reference": -0.4,
            "state": -0.4,
            "external_id": -0.3,
            "fee": -0.5,
            "time": -0.15,
            "title": -0.1,
            "method": -0.4,
            "category": -0.3,
            "listed_on": -0.3,
        },
        guessed=frozenset({"date", "tag_code"}),
        file_words=("stub", "abriss", "abschnitt"),
    )

    def rows(self, sheet: Sheet) -> Convert:
        positions = count(1)

        def outcomes(block: Block) -> list[Outcome]:
            return _stubs(block, positions)

        return outcomes


def _stubs(block: Block, positions: Iterator[int]) -> list[Outcome]:
    field = "price" if block.has("price") else "amount"
    prices, days, codes = block.money(field), block.dates("date"), block.cells("tag_code")
    found: list[Outcome] = []
    for place, (code, price) in enumerate(zip(codes, prices, strict=True)):
        refuse_no_code(block, place, code)
        if price is not None and price < 0:
            block.fault(place, field, _NEGATIVE)
        found.append(
            Stub(
                record=block.records[place],
                line=block.lines[place],
                tag_code=unwrapped(code),
                position=next(positions),
                day=days[place],
                price_minor=price,
                currency=block.currency_of(place) if price is not None else None,
            )
        )
    return found


_NEGATIVE = Fault("price-negative", "The price is below nought.", "Correct the price.")
