"""What rows of payments and rows of sales have in common: amount, kind, state, what went back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

import msgspec

from stallkeep_importers.contract import Outcome, TransactionKind
from stallkeep_importers.rows.amount_rules import is_of_fees
from stallkeep_importers.rows.amounts import Amounts, Paid
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.building import transactions
from stallkeep_importers.rows.payment_rows import (
    Kinds,
    Refunds,
    like,
    not_completed,
    refuse_said_tries,
)
from stallkeep_importers.rows.samples import sheet_sample
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.states import states_of


class PaidRows:
    """Reads the rows of one file, block by block.

    Args:
        sheet: The file.
        bases: Fields an amount may stand in, the first there is counts.
        usual: What a row is that says nothing: "payment" or "sale".
    """

    def __init__(self, sheet: Sheet, bases: Sequence[str], usual: TransactionKind) -> None:
        self.amounts = Amounts(sheet, bases)
        sample = sheet_sample(sheet)
        of_fees = is_of_fees(sheet, self.amounts.rule.base)
        self._kinds = Kinds("fee" if of_fees else usual)
        self._kinds.read(sample, self.amounts.read(sample).amounts)
        self._refunds = Refunds(sheet, sample, self.amounts.rule.base)

    def read(self, block: Block, paid: Paid) -> PaidBlock:
        """Read what a block says beside its amounts, and bring these to the contract's signs."""
        days, moments = block.moments()
        written = list(paid.amounts)
        kinds, details = self._kinds.read(block, paid.amounts)
        if written != paid.amounts:
            self.amounts.settle_refund_fees(block, paid, written)
        states = states_of(block)
        refuse_said_tries(block)
        refunded, marks = self._refunds.read(block, states, paid.amounts)
        return PaidBlock(block, paid, days, moments, kinds, details, states, refunded, marks)


class PaidBlock(msgspec.Struct):
    """What a block's rows say, by row.

    Attributes:
        details: What the kind says more precisely.
        refunded: The part given back later; None where nothing is said.
        marks: Whether all or part of it was given back later.
    """

    block: Block
    paid: Paid
    days: list[dt.date]
    moments: list[dt.datetime | None]
    kinds: list[TransactionKind]
    details: list[str | None]
    states: Sequence[str | None]
    refunded: list[int | None] | None
    marks: list[str | None]

    def outcomes(self, own: Mapping[str, Sequence[object] | None]) -> list[Outcome]:
        """Build the transactions, *own* being the importer's own columns; skip what failed."""
        found: list[Outcome] = list(
            transactions(
                {
                    **self.block.common(),
                    **self._parts(),
                    "kind": self.kinds,
                    "amount_minor": self.paid.amounts,
                    "occurred_on": self.days,
                    "occurred_at": self.moments,
                    "refunded_minor": self.refunded,
                    **self.block.texts_of("reference", "tag_code", "title"),
                    **self.block.ids_of("related_id", "payout_id"),
                    **own,
                }
            )
        )
        for place, state in enumerate(self.states):
            if state == "not_completed":
                found[place] = not_completed(self.block, place)
        if unsent := self.block.unsent - self.block.left_out - self.block.faults.keys():
            self.block.sheet.tally["not-sent"] += len(unsent)
        return found

    def _parts(self) -> dict[str, list[int | None]]:
        """Give the parts within the amounts, each with its amount's sign."""
        return {
            f"{part}_minor": [
                like(amount, value) for amount, value in zip(self.paid.amounts, values, strict=True)
            ]
            for part, values in self.paid.parts.items()
            if self.block.has(part)
        }
