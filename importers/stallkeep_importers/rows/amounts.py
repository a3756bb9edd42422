"""What the customer paid, from the columns a file has: rules found in its own arithmetic.

A file may give the whole amount, or a base with tip, tax, surcharge or postage on top; its fees
may be written as plus or as minus. Where it has a net or a total column too, the rows themselves
say which; else the heading does; else it is asked, once the first part above nought turns up.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import msgspec

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.contract import Choice, QuestionError
from stallkeep_importers.rows.amount_laws import Values, fee_sign, fees_fit, net_fits, sum_law, sums
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.column_questions import ask_columns
from stallkeep_importers.rows.columns import was_guessed_fee
from stallkeep_importers.rows.further_parts import settle_further
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.states import was_tried
from stallkeep_importers.words import cell_words, heading_words

PARTS = ("tip", "tax", "surcharge", "postage")


class Rule(msgspec.Struct, frozen=True):
    """How a file's columns give what was paid.

    Attributes:
        base: Field the amount starts from.
        on_top: Parts to add to it.
        unsettled: Parts nobody has said anything about.
        fee_sign: 1 where a fee kept is written as plus, -1 where as minus.
        has_net_law: Whether amount less fee is the net in every row.
        sum_law: Field and parts whose sum is the base in every row, or None.
    """

    base: str
    on_top: tuple[str, ...] = ()
    unsettled: tuple[str, ...] = ()
    fee_sign: int = 1
    has_net_law: bool = False
    sum_law: tuple[str, tuple[str, ...]] | None = None


class Paid(msgspec.Struct):
    """What one block's rows say, by row; parts and fees signed as the file writes them."""

    amounts: list[int]
    fees: Values
    parts: dict[str, Values]


class Amounts:
    """Reads what was paid, row by row, under one rule for the file."""

    def __init__(self, sheet: Sheet, bases: Sequence[str]) -> None:
        self._sheet = sheet
        base = _base(sheet, bases)
        for field, fits in (("fee", _fees_fit), ("tax", _taxes_fit)):
            settle_further(sheet, field, partial(sheet_sample, sheet), partial(fits, base))
        self.rule = _rule(sheet, base)
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
        if base == "net" or fees_fit(block, base, _used(block)) or not any(block.money("fee")):
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
                block.fault(place, part, _other_way(part))

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


def _base(sheet: Sheet, bases: Sequence[str]) -> str:
    """Choose the column to start from: the one a person named, else the most telling."""
    said = {column.field for column in sheet.columns if column.sureness == 1.0}
    there = [base for base in bases if base in sheet.places]
    return next((base for base in there if base in said), there[0])


def _fees_fit(base: str, block: Block) -> bool:
    """Say whether the fees, as they are chosen, make the net of what was paid."""
    return base != "net" and fees_fit(block, base, _used(block))


def _taxes_fit(base: str, block: Block) -> bool:
    """Say whether the taxes, as they are chosen, make the whole of what it is made of."""
    law = sum_law(block, base, _used(block), fewest=1)
    return law is not None and "tax" in law[1]


def _used(block: Block) -> list[str]:
    return [part for part in PARTS if any(block.money(part))]


def _rule(sheet: Sheet, base: str) -> Rule:
    block = sheet_sample(sheet)
    block.money(base)
    values = {part: block.money(part) for part in PARTS if part in sheet.places}
    used = [part for part, cells in values.items() if any(cells)]
    told = {part: said for part in values if (said := getattr(sheet.options, f"{part}_is"))}
    fits = net_fits(block, base, used) if base != "net" else []
    law = sum_law(block, base, used)
    settled: dict[str, bool] = {part: said == "on_top" for part, said in told.items()}
    for part in values:
        ways = {part in on_top for on_top, _ in fits}
        if part not in settled and len(ways) == 1 and part in used:
            settled[part] = ways.pop()
        elif part not in settled and ((law and part in law[1]) or _says_within(sheet, part)):
            settled[part] = False
        elif part not in settled and (default := _by_heading(base, part)) is not None:
            settled[part] = default
    return Rule(
        base=base,
        on_top=tuple(part for part, is_on_top in settled.items() if is_on_top),
        unsettled=tuple(part for part in values if part not in settled),
        fee_sign=fee_sign(block, base, {sign for _, sign in fits}, sheet.options.fees_are),
        has_net_law=bool(fits) and "net" in sheet.places,
        sum_law=law,
    )


def ask_part(block: Block, base: str, part: str, place: int) -> QuestionError:
    """Ask whether the column *base* holds a part, showing one row both ways."""
    header, other = block.sheet.header_of(base), block.sheet.header_of(part)
    amount, value = block.cells(base)[place], block.cells(part)[place]
    return QuestionError(
        f"{part}-undecided",
        f"The file does not say whether the column “{header}” holds the {part} "
        f"of the column “{other}” already.",
        f"Say whether the {part} is within the amount or comes on top.",
        parameter=f"{part}_is",
        choices=(
            Choice(value="within", meaning=f"{amount} was paid, {value} of it {part}"),
            Choice(value="on_top", meaning=f"{amount} was paid and {value} {part} on top"),
        ),
        facts={"columns": [header, other], "values": [amount, value]},
    )


def sheet_sample(sheet: Sheet) -> Block:
    """Give the sample's rows as a block of their own, tries that came to nothing left out."""
    rows = [row for row in sheet.table.sample if not was_tried(sheet, row)]
    return Block(sheet, rows, range(len(rows)), range(len(rows)))


def _says_within(sheet: Sheet, part: str) -> bool:
    """Say whether the part's own heading ends in a word such as "included"."""
    *_, last = sheet.table.headings[sheet.places[part]].plain.split() or [""]
    return cell_words("qualifiers").get(last) == "including" and last not in heading_words()


def _by_heading(base: str, part: str) -> bool | None:
    """Say what the words of the base settle: True for on top, None for nothing."""
    if base == "total" or (base == "net" and part != "tax"):
        return False
    if base == "subtotal" and part != "surcharge":
        return True
    if base == "price" and part == "postage":
        return True
    return None


def _added(amounts: list[int], values: Values) -> list[int]:
    """Add values by row; None adds nothing."""
    return [amount + (value or 0) for amount, value in zip(amounts, values, strict=True)]


def part_too_large(part: str) -> Fault:
    """Say that a part of an amount is larger than the amount."""
    return Fault(
        "part-too-large",
        f"The {part} is larger than the whole amount.",
        f"Correct the {part} or the amount and send the row again.",
    )


def _other_way(part: str) -> Fault:
    return Fault(
        "part-contradicts",
        f"The {part} is below nought, the amount is not.",
        f"Correct the {part} and send the row again.",
    )


def disagreement(header: str) -> Fault:
    """Say that a row's own sums contradict a column as those of other rows do not."""
    return Fault(
        "sums-disagree",
        f"The row's amounts do not add up to its “{header}”, as those of the other rows do.",
        "Correct the row and send it again.",
    )
