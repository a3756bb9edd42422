"""What a file's rows say about how its amounts and dates are to be read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from stallkeep_importers.cells.date_columns import OrderEvidence
from stallkeep_importers.cells.moments import date_texts, only_midnights
from stallkeep_importers.cells.money_columns import MarkEvidence
from stallkeep_importers.contract import Options
from stallkeep_importers.currencies import minor_units
from stallkeep_importers.rows.columns import DATE_FIELDS, MONEY_FIELDS


class Evidence:
    """What the rows say about how they are to be read.

    Args:
        places: Canonical field to place in the row.
        day_field: The field that says when a row happened, if any.
        currency: ISO code of amounts that do not say.
        options: What was answered already.

    Attributes:
        marks: Field of money to what its cells say about the decimal mark.
        orders: What all columns of days say about the order of day and month.
        midnights: Whether every time of day is midnight; None where there is none.
    """

    def __init__(
        self, places: Mapping[str, int], day_field: str | None, currency: str, options: Options
    ) -> None:
        self._options = options
        self._places = places
        self._day_field = day_field
        digits = minor_units()[currency]
        self.marks = {field: MarkEvidence(digits) for field in places if field in MONEY_FIELDS}
        self.orders = OrderEvidence()
        self.midnights: bool | None = None

    def add(self, rows: Iterable[Sequence[str]]) -> None:
        """Weigh more rows."""
        columns = list(zip(*rows, strict=False))
        if not columns:
            return
        for field, found in self.marks.items():
            found.add(columns[self._places[field]])
        for field in DATE_FIELDS & self._places.keys():
            cells = columns[self._places[field]]
            self.orders.add(date_texts(cells))
            if field == self._day_field:
                midnights = only_midnights(cells)
                if midnights is not None:
                    self.midnights = midnights and self.midnights is not False

    @property
    def is_open(self) -> bool:
        """Whether more rows could settle something."""
        marks_open = (
            bool(self.marks)
            and self._options.decimal_mark is None
            and not any(found.mark for found in self.marks.values())
        )
        order_open = (
            self._options.date_order is None
            and self.orders.is_needed
            and len(self.orders.orders) > 1
        )
        return marks_open or order_open or bool(self.midnights)
