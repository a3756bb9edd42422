"""What an event cost: pitch, travel, food and so on, from a list of expenses."""

from __future__ import annotations

from functools import partial

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.contract import (
    Choice,
    CostKind,
    Expense,
    Outcome,
    PartIs,
    QuestionError,
)
from stallkeep_importers.rows.amount_rules import ask_part
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.cell_faults import disagreement, part_too_large
from stallkeep_importers.rows.further_parts import settle_further
from stallkeep_importers.rows.payment_rows import KIND_UNCLEAR, like, said_refunds
from stallkeep_importers.rows.profiles import MAYBE_BANK, Profile, names
from stallkeep_importers.rows.readings import Convert
from stallkeep_importers.rows.samples import sheet_sample
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.table_importer import TableImporter
from stallkeep_importers.words import cell_words, plain_among

_BASES = ("total", "cost", "amount", "debit", "price")


class Expenses(TableImporter):
    """One row is one cost."""

    name = "expenses"
    title = "Expenses"
    gives = frozenset({"expense"})
    profile = Profile(
        fields=names(
            "date total amount cost debit credit price tax net currency category kind side "
            "external_id note title supplier rate balance tax_2 tax_3 tax_4"
        ),
        needs=(("date",), _BASES),
        speaks_for={
            "category": 0.3,
            "supplier": 0.2,
            "cost": 0.1,
            "in_and_out": -0.3,
            "tax": 0.05,
            "external_id": 0.02,
            "payment_id": -0.05,
            "note": 0.03,
            "fee": -0.4,
            "tip": -0.3,
            "method": -0.1,
            "state": -0.3,
            "postage": -0.3,
            "net": -0.1,
            "tag_code": -0.4,
            "reference": -0.3,
            "time": -0.2,
            "price": -0.2,
            "payout_id": -0.3,
            "title": -0.1,
            "listed_on": -0.4,
            "size": -0.3,
            "kind": -0.05,
            "balance": -0.2,
            "credit": -0.2,
        },
        beware={"credit": MAYBE_BANK},
        file_words=("expense", "cost", "ausgabe", "kosten", "spesen"),
    )

    def rows(self, sheet: Sheet) -> Convert:
        return _Expenses(sheet).outcomes


class _Expenses:
    """Converts the rows of one file."""

    def __init__(self, sheet: Sheet) -> None:
        self._base = next(field for field in _BASES if field in sheet.places)
        settle_further(
            sheet, "tax", partial(sheet_sample, sheet), partial(_adds_up, base=self._base)
        )
        self._sign = self._spent_sign(sheet)
        self._tax_is = sheet.options.tax_is or self._ask_tax(sheet)
        sheet.settled["tax_is"] = self._tax_is
        self._has_law = _adds_up(sheet_sample(sheet), self._base)
        sheet.settled["spent_is"] = "plus" if self._sign > 0 else "minus"

    def _ask_tax(self, sheet: Sheet) -> PartIs:
        """Say whether amounts hold their tax: a total does; of others it is asked.

        Raises:
            QuestionError: There is a tax, and neither heading nor answer places it.
        """
        block = sheet_sample(sheet)
        heading = sheet.table.headings[sheet.places[self._base]].plain.split()
        says = {cell_words("qualifiers").get(word) for word in heading}
        is_told = self._base == "total" or "including" in says or _adds_up(block, self._base)
        if is_told or not any(block.money("tax")):
            return "within"
        place = next(place for place, tax in enumerate(block.money("tax")) if tax)
        raise ask_part(block, self._base, "tax", place)

    def _spent_sign(self, sheet: Sheet) -> int:
        """Say how money spent is written: 1 for plus, -1 for minus.

        Raises:
            QuestionError: The file has both signs and nobody has said what they mean.
        """
        if sheet.options.spent_is or self._base == "debit":
            return -1 if sheet.options.spent_is == "minus" else 1
        if "side" in sheet.places:
            return -1
        amounts = [amount for amount in sheet_sample(sheet).money(self._base) if amount]
        minus = sum(1 for amount in amounts if amount < 0)
        if not minus or minus == len(amounts):
            return -1 if minus else 1
        if sign := _sign_by_refunds(sheet_sample(sheet), self._base):
            return sign
        header = sheet.header_of(self._base)
        raise QuestionError(
            "spent-undecided",
            f"The column “{header}” has {minus} amounts below nought and {len(amounts) - minus} "
            "above, and does not say which of them is money spent.",
            "Say whether money spent is written as plus or as minus.",
            parameter="spent_is",
            choices=(
                Choice(value="plus", meaning=f"{len(amounts) - minus} costs, {minus} given back"),
                Choice(value="minus", meaning=f"{minus} costs, {len(amounts) - minus} given back"),
            ),
            facts={"column": header},
        )

    def outcomes(self, block: Block) -> list[Outcome]:
        days, _ = block.moments()
        amounts = self._spent(block)
        if self._tax_is == "on_top":
            pairs = zip(amounts, block.money("tax"), strict=True)
            amounts = [cost + (like(cost, abs(tax or 0)) or 0) for cost, tax in pairs]
        kinds = _kinds(block)
        _refuse_given_back(block, amounts)
        if self._has_law:
            _check_sums(block, self._base)
        taxes = block.money("tax")
        ids, notes = block.ids("external_id"), _notes(block)
        found: list[Outcome] = []
        for place, amount in enumerate(amounts):
            tax = taxes[place]
            if tax and abs(tax) > abs(amount):
                block.fault(place, "tax", part_too_large("tax"))
            found.append(
                Expense(
                    record=block.records[place],
                    line=block.lines[place],
                    kind=kinds[place],
                    amount_minor=amount,
                    currency=block.currency_of(place),
                    spent_on=days[place],
                    tax_minor=None if tax is None else abs(tax) * (-1 if amount < 0 else 1),
                    external_id=ids[place],
                    note=notes[place],
                )
            )
        return found

    def _spent(self, block: Block) -> list[int]:
        """Give what each row cost: plus is money spent."""
        if self._base != "debit":
            if self._base == "cost":
                _refuse_income(block)
            values = block.money(self._base, required=True)
            return [self._sign * (value or 0) for value in values]
        found = []
        pairs = zip(block.money("debit"), block.money("credit"), strict=True)
        for place, (debit, credit) in enumerate(pairs):
            if not debit and not credit:
                block.fault(place, "debit", _MISSING)
            if debit and credit:
                block.fault(place, "debit", _BOTH)
            found.append(abs(debit or 0) - abs(credit or 0))
        return found


def _refuse_income(block: Block) -> None:
    """Reject rows of a cash book that have an amount beside the column of what was spent."""
    for place, amount in enumerate(block.money("amount")):
        if amount:
            block.fault(place, "amount", _BOTH if block.cells("cost")[place].strip() else _INCOME)


def _sign_by_refunds(block: Block, base: str) -> int:
    """Say how money spent is written where all rows that say refund, and no others, have one sign.

    Returns:
        1 for plus, -1 for minus, 0 where the rows do not show it.
    """
    amounts = [amount or 0 for amount in block.money(base)]
    told = said_refunds(block, "kind", "category", "note").keys()
    back = {amounts[place] > 0 for place in told if amounts[place]}
    spent = {amount > 0 for place, amount in enumerate(amounts) if amount and place not in told}
    if len(back) != 1 or len(spent) != 1:
        return 0
    return 1 if spent.pop() else -1


def _adds_up(block: Block, base: str) -> bool:
    """Say whether net and tax give the total in nearly all rows that have all three."""
    rows = _sums_of(block, base)
    return bool(rows) and sum(rows.values()) * 5 >= len(rows) * 4


def _check_sums(block: Block, base: str) -> None:
    for place, is_right in _sums_of(block, base).items():
        if not is_right:
            block.fault(place, base, disagreement(block.sheet.header_of("net")))


def _sums_of(block: Block, base: str) -> dict[int, bool]:
    """Give the rows with net, tax and total, and whether they add up."""
    columns = zip(block.money("net"), block.money("tax"), block.money(base), strict=True)
    return {
        place: net + tax == total
        for place, (net, tax, total) in enumerate(columns)
        if net is not None and tax is not None and total is not None
    }


def _refuse_given_back(block: Block, amounts: list[int]) -> None:
    """Reject rows that say they are refunds, and whose sign says that money was spent."""
    for place, field in said_refunds(block, "kind", "category", "note").items():
        if amounts[place] > 0:
            block.fault(place, field, KIND_UNCLEAR)


def _kinds(block: Block) -> list[CostKind]:
    """Give the cost category of each row; one we do not know is "other", its word in the note."""
    field = "category" if block.has("category") else "kind"
    known = cell_words("costs")
    cells = block.cells(field)
    meanings: dict[str, CostKind] = {
        cell: known.get(plain_among(cell, known), "other")  # type: ignore[misc]
        for cell in set(cells)
    }
    return [meanings[cell] for cell in cells]


def _notes(block: Block) -> list[str | None]:
    """Give what it was for; with the category's own word where we do not know it."""
    field = "note" if block.has("note") else "title"
    known = cell_words("costs")
    return [
        note
        if plain_among(word, known) in known or not word
        else " · ".join(filter(None, (word, note)))
        for note, word in zip(block.notes(field), block.cells("category"), strict=True)
    ]


_MISSING = Fault("money-missing", "The row has no amount.", "Add the amount and send it again.")
_INCOME = Fault(
    "money-missing",
    "The row has money in and nothing that was spent.",
    "Import the file as a cash tally if it is a cash book, or put the cost in its column.",
)
_BOTH = Fault(
    "money-twice", "The row has money out and money in.", "Split it into two rows and send them."
)
