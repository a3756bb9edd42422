"""What a cell may be, asked of one cell at a time to judge its column by."""

# ruff: noqa: RUF001 - dashes of every length are the subject

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from stallkeep_importers.cells.dates import date_readings, split_moment
from stallkeep_importers.cells.money import unwrapped, written
from stallkeep_importers.cells.times import time_of
from stallkeep_importers.currencies import currencies_of
from stallkeep_importers.words import cell_words, plain

# what a card is, as often as which way the money went
CARDS_TOO = frozenset({"d", "c", "debit", "credit", "debet", "kredit", "debito", "credito"})
_SIGNS = {"+": "in", "-": "out", "−": "out"}
_TWO_DECIMALS = re.compile("[.,][0-9]{2}$")
_CODE = re.compile("[0-9A-Z]{2,6}(?:-?[0-9A-Z]{2,6}){0,2}")


def is_money(cell: str) -> bool:
    """Say whether a cell can be an amount."""
    return written(cell) is not None or cell.strip() in ("-", "–", "—")


def is_date(cell: str) -> bool:
    """Say whether a cell begins with a date."""
    return date_readings(split_moment(unwrapped(cell))[0]) is not None


def is_moment(cell: str) -> bool:
    """Say whether a cell is a date with a time of day."""
    return is_date(cell) and split_moment(unwrapped(cell))[1] != ""


def is_no_method(cell: str) -> bool:
    """Say whether a cell of a column headed "type" is anything but a means of payment."""
    word = plain(cell)
    return word in cell_words("kinds") or word not in cell_words("methods")


def side_of(cell: str) -> str | None:
    """Read "CR" or "DR" in a column of its own: "in", "out" or None."""
    text = cell.strip()
    if text in _SIGNS:
        return _SIGNS[text]
    return cell_words("sides").get(plain(text))


def is_side(cell: str) -> bool:
    """Say whether a cell says which way the money went, and can say nothing else of a card."""
    return side_of(cell) is not None and plain(cell) not in CARDS_TOO


def is_plain_side(cell: str) -> bool:
    """Say whether a cell says which way the money went, whatever its column is called."""
    return is_side(cell) and len(plain(cell)) != 1


def is_time(cell: str) -> bool:
    """Say whether a cell is a time of day."""
    return isinstance(time_of(cell), tuple)


def is_code(cell: str) -> bool:
    """Say whether a cell looks like a tag code: capitals and digits, short, both kinds in it."""
    text = cell.strip()
    return (
        _CODE.fullmatch(text) is not None
        and any(map(str.isdigit, text))
        and any(map(str.isalpha, text))
    )


def has_decimals(cell: str) -> bool:
    """Say whether a cell is an amount that shows it: by decimals, groups or a currency."""
    amount = written(cell)
    return amount is not None and (
        not amount.number.isdigit() or bool(amount.money and not amount.money.isalpha())
    )


def is_no_price(cell: str) -> bool:
    """Say whether a cell is anything but an amount with a currency or two decimals."""
    amount = written(cell)
    if amount is None:
        return True
    money, number = amount.money, amount.number
    if money.isalpha():  # "80 kr" is a price, "FR 001" and "R12" are numbers of receipts
        is_currency = len(money) > 1 and bool(currencies_of(money)) and " " in cell.strip()
        return not is_currency or number.startswith("0")
    return not money and not _TWO_DECIMALS.search(number)


def share(test: Callable[[str], bool], cells: Sequence[str]) -> float:
    """Give the share of the first filled cells that pass a test; 0 without any."""
    filled = [cell for cell in cells if cell.strip()][:200]
    return sum(map(test, filled)) / len(filled) if filled else 0.0
