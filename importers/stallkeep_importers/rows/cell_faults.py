"""What is wrong with single cells of a block, or with what they sum to, in the seller's words."""

from __future__ import annotations

from stallkeep_importers.cells.faults import Fault


def missing(header: str, what: str) -> Fault:
    """Say that a row lacks a date or an amount."""
    return Fault(
        f"{'money' if what == 'amount' else what}-missing",
        f"The row has no {what} in the column “{header}”.",
        f"Add the {what} and send the row again.",
    )


def no_count(cell: str) -> Fault:
    """Say that a cell is no number of pieces."""
    return Fault(
        "quantity-unreadable",
        f"“{cell[:40]}” is no number of pieces.",
        "Write a whole number, none below nought.",
    )


def no_side(cell: str) -> Fault:
    """Say that a cell does not say which way the money went."""
    return Fault(
        "sign-unreadable",
        f"“{cell[:40]}” beside the amount does not say whether money came or went.",
        "Write CR for money that came and DR for money that went.",
    )


def no_currency(cell: str) -> Fault:
    """Say that a cell names no currency."""
    return Fault(
        "currency-unknown", f"“{cell[:40]}” is no currency we know.", "Write its ISO code."
    )


def other_currency(own: str, expected: str) -> Fault:
    """Say that a cell's own sign contradicts its row's currency."""
    return Fault(
        "currency-differs",
        f"The cell is in {own}, its row in {expected}.",
        "Correct the row and send it again.",
    )


def part_too_large(part: str) -> Fault:
    """Say that a part of an amount is larger than the amount."""
    return Fault(
        "part-too-large",
        f"The {part} is larger than the whole amount.",
        f"Correct the {part} or the amount and send the row again.",
    )


def other_way(part: str) -> Fault:
    """Say that a part goes the other way than its amount."""
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
