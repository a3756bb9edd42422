"""Write what came of a file as a bookkeeper would jot it down, one line an outcome."""

from __future__ import annotations

from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import msgspec
from tests.unit.importers.reading import read

from stallkeep_importers.contract import (
    CashCount,
    Counted,
    Expense,
    Importer,
    Listing,
    Outcome,
    QuestionError,
    RefusalError,
    Reject,
    Skip,
    Stub,
    Transaction,
)
from stallkeep_importers.currencies import minor_units

_PARTS = ("fee", "tip", "tax", "surcharge", "postage", "postage_cost", "refunded")
_FRAME = frozenset({"above-header", "header", "blank"})


class Messy(msgspec.Struct, kw_only=True):
    """One messy export, and what a careful bookkeeper takes from it.

    Attributes:
        name: What is messy about it.
        importer: Who reads it.
        data: The file; text is UTF-8 unless *codec* says otherwise.
        codec: How its text is written.
        options: What the shop knows and has answered.
        says: Lines as `jotted` gives them, or one line "ask parameter" or "refuse code".
    """

    name: str
    importer: type[Importer]
    data: str
    says: str
    codec: str = "utf-8"
    options: dict[str, object] = {}

    def check(self) -> None:
        """Read the file and compare."""
        assert self.found() == [line.strip() for line in self.says.strip().splitlines()]

    @property
    def bytes(self) -> bytes:
        """The file."""
        return self.data.lstrip("\n").encode(self.codec)

    def found(self) -> list[str]:
        """Give what came of the file, line by line."""
        try:
            got = read(self.bytes, self.importer(), **self.options)
        except QuestionError as question:
            return [f"ask {question.parameter}"]
        except RefusalError as refusal:
            return [f"refuse {refusal.code}"]
        lines = [jotted(each) for each in got.outcomes]
        told = [f"notice {each.code}" for each in got.notices]
        return [line for line in lines if line] + told

    def notices(self) -> list[str]:
        """Give the sentences about what was assumed."""
        got = read(self.bytes, self.importer(), **self.options)
        return list(got.layout.notices)


def messy_files() -> list[Messy]:
    """Give all messy exports of the modules beside this one."""
    names = sorted(path.stem for path in Path(__file__).parent.glob("test_messy_*.py"))
    modules = [import_module(f"tests.unit.importers.{name}") for name in names]
    return [file for module in modules for file in module.FILES]


def jotted(found: Outcome) -> str:  # noqa: PLR0911 - one for each kind
    """Give one line: what it is, how much, when, and all that is not usual about it."""
    match found:
        case Transaction():
            return " ".join(_transaction(found))
        case Listing():
            price = "?" if found.price_minor is None else money(found.price_minor, found.currency)
            parts = ["listing", found.reference, price, found.state, f"“{_flat(found.title)}”"]
            parts += [f"x{found.quantity}"] * (found.quantity != 1)
            parts += _named("tag", found.tag_code) + _named("since", found.listed_on)
            return " ".join(parts + _named("until", found.ended_on))
        case Counted():
            parts = ["counted", found.tag_code] + [f"x{found.quantity}"] * (found.quantity != 1)
            return " ".join(parts + _named("on", found.counted_on))
        case Stub():
            paid = [money(found.price_minor, found.currency or "")] if found.price_minor else []
            parts = ["stub", f"{found.position}.", found.tag_code, *paid]
            return " ".join(parts + _named("on", found.day))
        case CashCount():
            parts = [found.what, money(found.amount_minor, found.currency)]
            return " ".join(parts + _named("on", found.counted_on))
        case Expense():
            parts = [found.kind, money(found.amount_minor, found.currency), str(found.spent_on)]
            parts += [f"#{found.external_id}"] if found.external_id else []
            tax = None if found.tax_minor is None else money(found.tax_minor)
            return " ".join(parts + _named("tax", tax) + _named("for", found.note))
        case Reject():
            return f"reject {found.code}" + (f" [{found.column}]" if found.column else "")
        case Skip():
            return "" if found.code in _FRAME else f"skip {found.code}"


def money(minor: int, currency: str = "EUR") -> str:
    """Write minor units with the currency's decimals, its code behind it unless it is EUR."""
    digits = minor_units()[currency]
    whole, part = divmod(abs(minor), 10**digits)
    number = f"{'-' * (minor < 0)}{whole}" + (f".{part:0{digits}}" if digits else "")
    return number if currency == "EUR" else f"{number} {currency}"


def _transaction(found: Transaction) -> Iterator[str]:
    yield found.kind
    yield money(found.amount_minor, found.currency)
    at = found.occurred_at
    yield at.isoformat(timespec="minutes") if at else str(found.occurred_on)
    if at and at.second:
        yield f"{at:%Ss}"
    if at and at.date() != found.occurred_on:
        yield f"({found.occurred_on})"
    yield found.method or "-"
    for sign, text in (("#", found.external_id), ("^", found.related_id), ("@", found.reference)):
        if text:
            yield sign + text
    for part in _PARTS:
        value = getattr(found, f"{part}_minor")
        if value is not None:
            digits = minor_units()[found.currency]
            yield f"{part}={value / 10**digits:.{digits}f}"
    if found.quantity != 1:
        yield f"x{found.quantity}"
    yield from _named("tag", found.tag_code)
    yield from _named("payout", found.payout_id)
    if found.detail:
        yield found.detail
    if found.covers:
        yield f"covers={','.join(found.covers)}"


def _named(name: str, value: object) -> list[str]:
    return [f"{name}={value}"] if value else []


def _flat(text: str) -> str:
    return text.replace("\n", " / ")
