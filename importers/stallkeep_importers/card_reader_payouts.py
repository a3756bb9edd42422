"""Payouts of a card reader: what reached the bank, from its export."""

from __future__ import annotations

import re
from functools import partial

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.contract import Outcome, RefusalError
from stallkeep_importers.rows.amount_laws import fees_fit
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.building import transactions
from stallkeep_importers.rows.column_questions import ask_columns
from stallkeep_importers.rows.further_parts import settle_further
from stallkeep_importers.rows.payment_rows import KIND_UNCLEAR, not_completed
from stallkeep_importers.rows.profiles import Profile, names
from stallkeep_importers.rows.readings import Convert
from stallkeep_importers.rows.samples import sheet_sample
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.states import states_of
from stallkeep_importers.rows.table_importer import TableImporter
from stallkeep_importers.words import cell_words, heading_words, plain

_SEPARATOR = re.compile(r"[\s,;|+]+")


class CardReaderPayouts(TableImporter):
    """One row is one payout: the amount that arrived, and the fees kept from it."""

    name = "card-reader-payouts"
    title = "Card-reader payouts"
    gives = frozenset({"transaction"})
    profile = Profile(
        fields=names(
            "payout_date date time zone net amount total fee currency side kind state "
            "payout_id external_id covers note refunded fee_2 fee_3 fee_4 fee_5"
        ),
        needs=(("date", "payout_date"), ("net", "amount", "total"), ("payout_date", "payout_id")),
        speaks_for={
            "payout_date": 0.25,
            "payout_id": 0.15,
            "covers": 0.1,
            "net": 0.05,
            "total": 0.03,
            "tip": -0.3,
            "method": -0.3,
            "title": -0.3,
            "time": -0.1,
            "kind": -0.15,
            "external_id": -0.1,
            "price": -0.3,
            "card_brand": -0.2,
            "note": -0.05,
            "balance": -0.3,
        },
        file_words=("payout", "auszahlung", "settlement", "deposit"),
        day_fields=("payout_date", "date"),
    )

    def rows(self, sheet: Sheet) -> Convert:
        return _Payouts(sheet).outcomes


class _Payouts:
    """Converts the rows of one file."""

    def __init__(self, sheet: Sheet) -> None:
        there = sheet.places
        self._base = next(field for field in ("net", "amount", "total") if field in there)
        self._sheet = sheet
        _refuse_statement(sheet, self._base)
        settle_further(
            sheet, "fee", partial(sheet_sample, sheet), lambda block: fees_fit(block, "total", ())
        )
        self._fee_sign, self._has_law = self._law(sheet_sample(sheet))
        if self._base == "amount" and "fee" in there and "amount" not in sheet.options.columns:
            self._ask_which_amount(sheet_sample(sheet))

    def _law(self, block: Block) -> tuple[int, bool]:
        """Learn from the rows whether fees are written as plus, and whether they must add up."""
        fees = block.money("fee")
        if self._base == "net" and block.has("total") and block.has("fee"):
            rows = list(zip(block.money("total"), fees, block.money("net"), strict=True))
            whole = [
                (total, fee or 0, net)
                for total, fee, net in rows
                if total is not None and net is not None
            ]
            for sign in (1, -1):
                if whole and sum(total - sign * fee == net for total, fee, net in whole) * 5 >= (
                    len(whole) * 4
                ):
                    return sign, True
        minus = sum(1 for fee in fees if fee and fee < 0)
        return (-1 if minus * 2 > sum(1 for fee in fees if fee) else 1), False

    def _ask_which_amount(self, block: Block) -> None:
        """Ask whether an amount beside a fee is what arrived, or what it was before the fee.

        Raises:
            QuestionError: There is a fee, and nobody has said.
        """
        if not any(block.money("fee")):
            return
        header = self._sheet.header_of("amount")
        question = ask_columns(self._sheet.table.headings, ["net"], self._sheet.table.sample)
        question.code = "column-unclear"
        question.detail = (
            f"The column “{header}” stands beside a fee and may be what arrived, or the sum "
            "before the fee."
        )
        question.advice = (
            f"Say net={header} if it is what arrived, total={header} if the fee "
            "is still to be taken off."
        )
        raise question

    def outcomes(self, block: Block) -> list[Outcome]:
        days, moments = block.moments()
        amounts = [amount or 0 for amount in block.money(self._base, required=True)]
        _refuse_backward(block)
        fees = [None if fee is None else self._fee_sign * fee for fee in block.money("fee")]
        totals = block.money("total")
        for place, (amount, fee, total) in enumerate(zip(amounts, fees, totals, strict=True)):
            if self._base == "total":
                amounts[place] = amount - (fee or 0)
            elif self._has_law and total is not None and total - (fee or 0) != amount:
                block.fault(place, "net", _DISAGREE)
        found: list[Outcome] = list(
            transactions(
                {
                    **block.common(),
                    "kind": ["payout"] * len(block),
                    "amount_minor": amounts,
                    "occurred_on": days,
                    "occurred_at": moments,
                    "external_id": block.ids(
                        "payout_id" if block.has("payout_id") else "external_id"
                    ),
                    "method": ["transfer"] * len(block),
                    "fee_minor": fees if block.has("fee") else None,
                    "covers": _covers(block) if block.has("covers") else None,
                    "note": block.notes("note") if block.has("note") else None,
                }
            )
        )
        for place, state in enumerate(states_of(block, on_its_way="not_completed")):
            if state == "not_completed":
                found[place] = not_completed(block, place)
            elif state in ("refunded", "partly_refunded"):
                block.fault(place, "state", _SENT_BACK)
        return found


def _refuse_statement(sheet: Sheet, base: str) -> None:
    """Refuse a bank's list of all that came and went: most of it is no payout.

    Raises:
        RefusalError: There is a balance, nothing of payouts, and money goes both ways or
            account numbers stand beside it.
    """
    senses = heading_words()
    fields = {
        sense.field for found in sheet.table.headings for sense in senses.get(found.plain, ())
    }
    if "balance" not in fields or {"fee", "covers", "total", "payout_id"} & sheet.places.keys():
        return
    signs = {amount > 0 for amount in sheet_sample(sheet).money(base) if amount}
    if len(signs) > 1 or "personal:bank" in fields:
        raise RefusalError(
            "bank-statement",
            "This looks like a bank statement: a balance stands beside amounts that are not all "
            "payouts.",
            "Ask your bank for the statement as OFX or camt.053 and import that.",
        )


def _refuse_backward(block: Block) -> None:
    """Reject a payout that its kind calls a reversal, and whose amount does not."""
    words = cell_words("kinds")
    back = {word for word, kind in words.items() if kind in ("refund", "dispute")}
    amounts = block.amounts.values()
    for place, cell in enumerate(block.cells("kind")):
        is_minus = any((values[place] or 0) < 0 for values in amounts)
        if cell and not is_minus and not back.isdisjoint(plain(cell).split()):
            block.fault(place, "kind", KIND_UNCLEAR)


def _covers(block: Block) -> list[tuple[str, ...] | None]:
    """Give the ids a cell lists; a bare number is a count of payments, not an id."""
    found = []
    for cell in block.cells("covers"):
        ids = tuple(part for part in _SEPARATOR.split(cell.strip()) if part)
        is_count = len(ids) == 1 and ids[0].isdigit() and len(ids[0]) <= 4  # noqa: PLR2004
        found.append(None if not ids or is_count else ids)
    return found


_SENT_BACK = Fault(
    "payout-returned",
    "The payout is said to have been returned, so the bank may not have kept it.",
    "Look at your bank statement: write paid there if it arrived, failed if it did not.",
)
_DISAGREE = Fault(
    "sums-disagree",
    "Gross less fees is not the net amount in this row, as it is in the others.",
    "Correct the row and send it again.",
)
