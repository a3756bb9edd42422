"""What a file's rows say about how its amounts and dates are to be read."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from stallkeep_importers.cells.date_columns import OrderEvidence
from stallkeep_importers.cells.moments import date_texts, only_midnights, time_texts
from stallkeep_importers.cells.money_columns import MarkEvidence
from stallkeep_importers.cells.times import has_half
from stallkeep_importers.contract import Choice, Options, QuestionError
from stallkeep_importers.currencies import minor_units
from stallkeep_importers.rows.fields import DATE_FIELDS, MONEY_FIELDS

_BASES = frozenset({"amount", "cost", "cash", "total", "subtotal", "net", "price"})
_LARGE = 100
_FEWEST = 3


class Evidence:
    """What the rows say about how they are to be read.

    Args:
        places: Canonical field to place in the row.
        day_field: The field that says when a row happened, if any.
        currency: ISO code of amounts that do not say.
        options: What was answered already.
        says_minor: Whether a heading says that amounts are in minor units.

    Attributes:
        marks: Field of money to what its cells say about the decimal mark.
        orders: What all columns of days say about the order of day and month.
        has_halves: Whether any time of day names its half of the day.
        midnights: Whether every time of day is midnight; None where there is none.
    """

    def __init__(
        self,
        places: Mapping[str, int],
        day_field: str | None,
        currency: str,
        options: Options,
        *,
        says_minor: bool,
    ) -> None:
        self._options = options
        self._places = places
        self._day_field = day_field
        self._digits = minor_units()[currency]
        self._says_minor = says_minor
        self.marks = {
            field: MarkEvidence(self._digits) for field in places if field in MONEY_FIELDS
        }
        self.orders = OrderEvidence()
        self.midnights: bool | None = None
        self.has_halves = False

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
                texts = (
                    columns[self._places["time"]] if "time" in self._places else time_texts(cells)
                )
                self.has_halves = self.has_halves or any(map(has_half, set(texts)))
                midnights = only_midnights(cells)
                if midnights is not None:
                    self.midnights = midnights and self.midnights is not False

    def unit(self, header_of: Callable[[str], str]) -> str:
        """Say whether amounts are in major or minor units.

        Programs write 1250 for 12.50. Amounts in digits alone are believed to be whole, as people
        write them, unless all of them are too large for a stall or a fee is whole as well.

        Raises:
            QuestionError: They may be cents, and neither heading nor answer says so.
        """
        said = self._options.amounts_are
        bare = {field: found for field, found in self.marks.items() if found.wholes}
        if said or self._digits == 0 or self._says_minor:
            return said or "major"
        if not bare or any(found.has_others for found in self.marks.values()):
            return "major"
        wholes = {number for field in bare.keys() & _BASES for number in bare[field].wholes}
        has_whole_fee = bool(bare.keys() & {"fee", "tax"})
        if not wholes or min(wholes) < _LARGE or (len(wholes) < _FEWEST and not has_whole_fee):
            return "major"
        field = next(field for field in bare if field in _BASES)
        raise _unit_question(header_of(field), [str(number) for number in sorted(wholes)[:2]])

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


def _unit_question(column: str, shown: list[str]) -> QuestionError:
    whole = "; ".join(f"{text} is {text}.00" for text in shown)
    parted = "; ".join(f"{text} is {text[:-2]}.{text[-2:]}" for text in shown)
    return QuestionError(
        "unit-undecided",
        f"The column “{column}” holds whole numbers only, all of them large: they may be cents.",
        "Say whether they are major units (euros) or minor ones (cents).",
        parameter="amounts_are",
        choices=(Choice(value="major", meaning=whole), Choice(value="minor", meaning=parted)),
        facts={"column": column, "values": shown},
    )
