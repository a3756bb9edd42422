"""How a file's columns give what was paid: rules found in its own arithmetic, or asked for.

A file may give the whole amount, or a base with tip, tax, surcharge or postage on top; its fees
may be written as plus or as minus. Where it has a net or a total column too, the rows themselves
say which; else the heading does; else it is asked, once the first part above nought turns up.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from stallkeep_importers.contract import Choice, QuestionError
from stallkeep_importers.rows.amount_laws import fee_sign, fees_fit, net_fits, sum_law
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.heading_senses import parts_named
from stallkeep_importers.rows.samples import sheet_sample
from stallkeep_importers.rows.sheets import Sheet
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


def base_of(sheet: Sheet, bases: Sequence[str]) -> str:
    """Choose the column to start from: the one a person named, else the most telling."""
    said = {column.field for column in sheet.columns if column.sureness == 1.0}
    there = [base for base in bases if base in sheet.places]
    return next((base for base in there if base in said), there[0])


def is_of_fees(sheet: Sheet, base: str) -> bool:
    """Say whether the column to start from is headed as one of fees: a list of fees alone."""
    return parts_named(sheet.table.headings[sheet.places[base]].plain) == {"fee"}


def settle_postage(sheet: Sheet, base: str) -> None:
    """Take postage for what the seller paid, where the net is the price without it."""
    said = sheet.options.postage_is or "postage" in sheet.options.columns
    if base == "net" or said or "postage_cost" in sheet.places or not sheet.uses("postage_cost"):
        return
    block = sheet_sample(sheet)
    used = used_parts(block)
    others = [part for part in used if part != "postage"]
    if others == used or net_fits(block, base, used):
        return
    if net_fits(block, base, others, ["postage"]):
        header = sheet.header_of("postage")
        sheet.use("postage_cost", "postage", "the net is without it")
        sheet.notices.append(
            f"The column “{header}” was taken for postage the seller paid: "
            f"“{sheet.header_of('net')}” is what is left without it."
        )


def rule_of(sheet: Sheet, base: str) -> Rule:
    """Find the rule of a file in its sample."""
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


def net_fees_fit(base: str, block: Block) -> bool:
    """Say whether the fees, as they are chosen, make the net of what was paid."""
    return base != "net" and fees_fit(block, base, used_parts(block))


def whole_taxes_fit(base: str, block: Block) -> bool:
    """Say whether the taxes, as they are chosen, make the whole of what it is made of."""
    law = sum_law(block, base, used_parts(block), fewest=1)
    return law is not None and "tax" in law[1]


def used_parts(block: Block) -> list[str]:
    """List the parts that a block has amounts of."""
    return [part for part in PARTS if any(block.money(part))]


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
