"""A tally of the cash box: each sale in cash, and what was put in, taken out or counted."""

from __future__ import annotations

from typing import cast

from stallkeep_importers.cells.cell_tests import side_of
from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.contract import (
    CashCount,
    CashCountKind,
    Method,
    Outcome,
    Transaction,
    TransactionKind,
)
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.building import transactions
from stallkeep_importers.rows.cell_faults import missing, part_too_large
from stallkeep_importers.rows.payment_rows import (
    KIND_UNCLEAR,
    like,
    refuse_discounts,
    refuse_said_tries,
    said_refunds,
)
from stallkeep_importers.rows.profiles import MAYBE_BANK, Profile, names
from stallkeep_importers.rows.readings import Convert
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.table_importer import TableImporter
from stallkeep_importers.words import cell_words, heading_words, plain

_FEWEST = 2
_BASES = ("cash", "amount", "total", "price")


class CashTally(TableImporter):
    """One row is one sale in cash, or one line about the box itself."""

    name = "cash-tally"
    title = "Cash tally"
    gives = frozenset({"transaction", "cash_count"})
    profile = Profile(
        fields=names(
            "date time zone cash amount total price discount quantity currency kind side tag_code "
            "title note external_id tip credit debit balance"
        ),
        needs=(("date",), (*_BASES, "credit+debit")),
        speaks_for={
            "cash": 0.3,
            "fee": -0.4,
            "net": -0.3,
            "method": -0.2,
            "external_id": -0.15,
            "state": -0.3,
            "postage": -0.4,
            "card_brand": -0.3,
            "tip": -0.05,
            "category": -0.3,
            "tax": -0.2,
            "reference": -0.3,
            "payout_id": -0.3,
            "payout_date": -0.3,
            "supplier": -0.2,
            "tag_code": 0.05,
            "note": 0.03,
            "time": 0.02,
            "balance": -0.15,
            "subtotal": -0.2,
            "credit": -0.15,
            "in_and_out": 0.1,
        },
        beware={"credit": MAYBE_BANK, "balance": MAYBE_BANK},
        file_words=("cash", "tally", "kasse", "bar-", "bargeld"),
    )

    def rows(self, sheet: Sheet) -> Convert:
        base = next((field for field in _BASES if field in sheet.places), "credit")

        box = _Box()

        def outcomes(block: Block) -> list[Outcome]:
            found = _outcomes(block, base)
            box.refuse_counts(block, found)
            return found

        return outcomes


class _Box:
    """Follows what must be in the box, to notice a count that nobody calls a count."""

    def __init__(self) -> None:
        self._expected_minor: int | None = None
        self._sales = 0

    def refuse_counts(self, block: Block, found: list[Outcome]) -> None:
        """Note sales of just what must be in the box by then, unless they say that they are."""
        for place, each in enumerate(found):
            if place in block.faults:
                continue
            if isinstance(each, CashCount):
                self._count(each)
            elif isinstance(each, Transaction):
                is_all = each.amount_minor == self._expected_minor and self._sales >= _FEWEST
                if is_all and not _says_sale(block, place):
                    block.fault(place, "note", _MAY_BE_COUNT)
                    continue
                self._add(each.amount_minor)
                self._sales += 1

    def _count(self, counted: CashCount) -> None:
        if counted.what == "float":
            self._expected_minor, self._sales = counted.amount_minor, 0
        elif counted.what != "counted":
            sign = 1 if counted.what == "paid_in" else -1
            self._add(sign * counted.amount_minor)

    def _add(self, minor: int) -> None:
        if self._expected_minor is not None:
            self._expected_minor += minor


def _says_sale(block: Block, place: int) -> bool:
    cells = (plain(block.cells(field)[place]) for field in ("kind", "note", "title"))
    words = {word for cell in cells for word in (cell, *cell.split()[:1])}
    return any(cell_words("kinds").get(word) == "payment" for word in words)


def _outcomes(block: Block, base: str) -> list[Outcome]:
    days, moments = block.moments()
    has_ways = block.has("debit") and base in ("amount", "credit")
    amounts = _ways(block, base) if has_ways else _taken(block, base)
    quantities = block.counts("quantity")
    if base == "price":
        amounts = [amount * quantity for amount, quantity in zip(amounts, quantities, strict=True)]
    tips = block.money("tip")
    _settle_refunds(block, amounts)
    refuse_said_tries(block)
    if base == "price":
        refuse_discounts(block)
    for place, (amount, tip) in enumerate(zip(amounts, tips, strict=True)):
        if tip and abs(tip) > abs(amount):
            block.fault(place, "tip", part_too_large("tip"))
    kinds: list[TransactionKind] = ["refund" if amount < 0 else "payment" for amount in amounts]
    cash: list[Method] = ["cash"] * len(block)
    found: list[Outcome] = list(
        transactions(
            {
                **block.common(),
                "kind": kinds,
                "amount_minor": amounts,
                "occurred_on": days,
                "occurred_at": moments,
                "method": cash,
                "external_id": block.ids("external_id") if block.has("external_id") else None,
                "tip_minor": list(map(like, amounts, tips)) if block.has("tip") else None,
                "note": block.notes("note") if block.has("note") else None,
                "quantity": quantities if block.has("quantity") else None,
                **block.texts_of("tag_code", "title"),
            }
        )
    )
    notes = block.notes("note")
    refunds = said_refunds(block, "kind", "note", "title")

    def box(what: CashCountKind, place: int) -> CashCount:
        return CashCount(
            record=block.records[place],
            line=block.lines[place],
            what=what,
            amount_minor=abs(amounts[place]),
            currency=block.currency_of(place),
            counted_on=days[place],
            note=notes[place],
        )

    for place, word in enumerate(_box_words(block)):
        if word:
            found[place] = box(word, place)
        elif place not in refunds and _leaves(block, place, has_ways=has_ways):
            if has_ways and _is_cost(block.sheet):
                found[place] = box("paid_out", place)
            else:
                block.fault(place, "debit" if has_ways else "side", _TAKEN_OUT)
    return found


def _taken(block: Block, base: str) -> list[int]:
    return [amount or 0 for amount in block.money(base, required=True)]


def _ways(block: Block, base: str) -> list[int]:
    """Give what came less what went, from two columns; a count may stand in the balance alone."""
    came, went, left = block.money(base), block.money("debit"), block.money("balance")
    words = _box_words(block)
    amounts = []
    for place, (in_minor, out_minor) in enumerate(zip(came, went, strict=True)):
        if in_minor and out_minor:
            block.fault(place, "debit", _BOTH)
        is_empty = in_minor is None and out_minor is None
        counted = left[place] if is_empty and words[place] in ("counted", "float") else None
        if is_empty and counted is None:
            block.fault(place, base, missing(block.sheet.header_of(base), "amount"))
        amounts.append((counted or in_minor or 0) - abs(out_minor or 0))
    return amounts


def _leaves(block: Block, place: int, *, has_ways: bool) -> bool:
    if has_ways:
        return bool(block.amounts["debit"][place])
    return side_of(block.cells("side")[place]) == "out"


def _is_cost(sheet: Sheet) -> bool:
    """Say whether the column of what left the box is headed as money spent, not as any way out."""
    heading = sheet.table.headings[sheet.places["debit"]].plain
    return any(sense.field == "cost" for sense in heading_words().get(heading, ()))


def _settle_refunds(block: Block, amounts: list[int]) -> None:
    """Give refunds by word their minus; a mere note that contradicts the amount is a reject."""
    for place in said_refunds(block, "kind"):
        amounts[place] = -abs(amounts[place])
    for place, field in said_refunds(block, "note", "title").items():
        if amounts[place] > 0:
            block.fault(place, field, KIND_UNCLEAR)


def _box_words(block: Block) -> list[CashCountKind | None]:
    """Give what a row says about the box itself, in any cell that is nothing but that word."""
    known = cell_words("cash")
    found: list[CashCountKind | None] = [None] * len(block)
    for cells in (*block.text_columns(), block.cells("note"), block.cells("title")):
        for place, cell in enumerate(cells):
            word = plain(cell)
            if word in known:
                found[place] = found[place] or cast(CashCountKind, known[word])
    for place, cell in enumerate(block.cells("kind")):
        sale = cell_words("kinds").get(plain(cell), "")
        if cell.strip() and not found[place] and sale not in ("payment", "refund"):
            block.fault(place, "kind", _unknown(cell))
    return found


_MAY_BE_COUNT = Fault(
    "kind-unclear",
    "The amount is just what must be in the box by then: it may be a count, and no sale.",
    "Write counted or sale beside it.",
)
_BOTH = Fault(
    "money-twice",
    "The row has money in and money out.",
    "Split it into two rows and send them.",
)
_TAKEN_OUT = Fault(
    "kind-unclear",
    "The row takes money out of the box, and does not say whether a customer got it back.",
    "Write refund or paid out beside it.",
)


def _unknown(cell: str) -> Fault:
    return Fault(
        "kind-unknown",
        f"We do not know what kind of line “{cell[:40]}” is.",
        "Say sale, float, counted, paid in or paid out instead.",
    )
