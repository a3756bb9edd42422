"""What the customer paid, row by row, from the columns a file has."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import msgspec

from stallkeep_importers.rows.amount_laws import Values, fees_fit, sums
from stallkeep_importers.rows.amount_rules import (
    PARTS,
    ask_part,
    base_of,
    net_fees_fit,
    rule_of,
    settle_postage,
    used_parts,
    whole_taxes_fit,
)
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.cell_faults import disagreement, other_way, part_too_large
from stallkeep_importers.rows.column_questions import ask_columns
from stallkeep_importers.rows.columns import was_guessed_fee
from stallkeep_importers.rows.further_parts import settle_further
from stallkeep_importers.rows.samples import sheet_sample
from stallkeep_importers.rows.sheets import Sheet


class Paid(msgspec.Struct):
    """What one block's rows say, by row; parts and fees signed as the file writes them."""

    amounts: list[int]
    fees: Values
    parts: dict[str, Values]


class Amounts:
    """Reads what was paid, row by row, under one rule for the file."""

    def __init__(self, sheet: Sheet, bases: Sequence[str]) -> None:
        self._sheet = sheet
        base = base_of(sheet, bases)
        for field, fits in (("fee", net_fees_fit), ("tax", whole_taxes_fit)):
            settle_further(sheet, field, partial(sheet_sample, sheet), partial(fits, base))
        settle_postage(sheet, base)
        self.rule = rule_of(sheet, base)
        if was_guessed_fee(sheet.columns) and "net" in sheet.places and not self.rule.has_net_law:
            self._ask_about_fee(base)
        self._ask_what_is_missing()
        sheet.settled["fees_are"] = "plus" if self.rule.fee_sign > 0 else "minus"
        for part in PARTS:
            if part in sheet.places and part not in self.rule.unsettled:
                is_on_top = part in self.rule.on_top
                sheet.settled[f"{part}_is"] = "on_top" if is_on_top else "within"

    def read(self, block: Block) -> Paid:
        """Read a block; rows whose sums contradict the file's own rule are noted as faulty.

        Raises:
            QuestionError: A part turns up and nothing says whether the amount holds it.
        """
        rule = self.rule
        base = block.money(rule.base, required=True)
        parts = {part: block.money(part) for part in PARTS}
        fees = block.money("fee")
        if rule.fee_sign < 0:
            fees = [None if fee is None else -fee for fee in fees]
        for part in rule.unsettled:
            self._ask_if_needed(block, part, parts[part])
        amounts = [amount or 0 for amount in base]
        if rule.base == "net":
            amounts = _added(amounts, fees)
        for part in rule.on_top:
            amounts = _added(amounts, parts[part])
        for part, values in parts.items():
            if any(values):
                self._check_part(block, part, amounts, values)
        if rule.has_net_law:
            self._check_net(block, amounts, fees)
        if rule.sum_law:
            self._check_sum(block, base, *rule.sum_law)
        return Paid(amounts, fees, parts)

    def settle_refund_fees(self, block: Block, paid: Paid, written: Sequence[int]) -> None:
        """Give fees of refunds written without a minus their sign, as the net shows it.

        Without a net nobody can say whether such a fee was kept or given back: it is left out.

        Args:
            block: The rows.
            paid: What they say, amounts signed by the kinds of the rows.
            written: Amounts as they were before.
        """
        nets = block.money("net") if self.rule.has_net_law else [None] * len(block)
        for place, (amount, before) in enumerate(zip(paid.amounts, written, strict=True)):
            fee = paid.fees[place]
            if not fee or not amount < 0 < before:
                continue
            net = nets[place]
            if net is None:
                paid.fees[place] = None
                self._sheet.tally["fee-unknown"] += 1
            elif abs(net) == before - fee:
                paid.fees[place] = -fee

    def _ask_what_is_missing(self) -> None:
        """Ask for the whole where a file has only what was paid before something it does not name.

        Raises:
            QuestionError: The base is a subtotal, and amounts beside it are not understood.
        """
        sheet = self._sheet
        if self.rule.base != "subtotal" or self.rule.on_top or not sheet.unused_money:
            return
        if "subtotal" in sheet.options.columns:
            return
        question = ask_columns(sheet.table.headings, ["total"], sheet.table.sample)
        header = sheet.header_of("subtotal")
        names = ", ".join(f"“{name}”" for name in sheet.unused_money)
        question.detail = (
            f"The column “{header}” is only a part of what was paid, and we do not know what "
            f"{names} add to it. {question.detail}"
        )
        question.advice = (
            "Say total= with the heading of what the customer paid; if that is "
            f"“{header}”, total={header}."
        )
        raise question

    def _ask_about_fee(self, base: str) -> None:
        """Ask about a fee that one word of its heading tells, where the net does not bear it out.

        Raises:
            QuestionError: The net is something else.
        """
        sheet = self._sheet
        block = sheet_sample(sheet)
        if base == "net" or fees_fit(block, base, used_parts(block)) or not any(block.money("fee")):
            return
        header = sheet.header_of("fee")
        question = ask_columns(sheet.table.headings, ["fee"], sheet.table.sample)
        question.code = "column-unclear"
        question.detail = (
            f"The column “{header}” speaks of a fee, and “{sheet.header_of('net')}” is not what "
            "is left without it."
        )
        question.advice = f"Say fee={header} if it is kept from you, and fee= with nothing if not."
        raise question

    def _ask_if_needed(self, block: Block, part: str, values: Values) -> None:
        place = next((place for place, value in enumerate(values) if value), None)
        if place is not None:
            raise ask_part(block, self.rule.base, part, place)

    def _check_part(self, block: Block, part: str, amounts: list[int], values: Values) -> None:
        """Note rows one of whose parts is larger than what was paid, or goes the other way."""
        for place, (amount, value) in enumerate(zip(amounts, values, strict=True)):
            if not value:
                continue
            if abs(value) > abs(amount):
                block.fault(place, part, part_too_large(part))
            elif value < 0 < amount:
                block.fault(place, part, other_way(part))

    def _check_net(self, block: Block, amounts: list[int], fees: Values) -> None:
        nets = block.money("net")
        if [amount - (fee or 0) for amount, fee in zip(amounts, fees, strict=True)] == nets:
            return
        for place, (amount, fee, net) in enumerate(zip(amounts, fees, nets, strict=True)):
            if net is None or not amount:
                continue
            kept = fee or 0
            if net not in (amount - kept, kept - amount, -amount - kept):
                block.fault(place, "net", disagreement(self._sheet.header_of("net")))

    def _check_sum(self, block: Block, base: Values, field: str, parts: tuple[str, ...]) -> None:
        wholes = sums(block, field, parts)
        if wholes == base:
            return
        for place, (amount, whole) in enumerate(zip(base, wholes, strict=True)):
            if whole is not None and amount != whole:
                block.fault(place, self.rule.base, disagreement(self._sheet.header_of(field)))


def _added(amounts: list[int], values: Values) -> list[int]:
    """Add values by row; None adds nothing."""
    return [amount + (value or 0) for amount, value in zip(amounts, values, strict=True)]
