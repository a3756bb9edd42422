"""What is kept of a row that was read well and belongs nowhere: its fields."""

from __future__ import annotations

from typing import Any

import msgspec

from stallkeep.domain.errors import UnknownCurrencyError
from stallkeep.domain.money import to_text
from stallkeep_importers.contract import Record


def as_told(row: Record) -> tuple[str, ...]:
    """Write a row's fields as "name: value", amounts in major units, without those left empty."""
    fields: dict[str, Any] = msgspec.structs.asdict(row)
    currency = fields.get("currency")
    told = {name: value for name, value in fields.items() if value is not None}
    return tuple(
        f"{name.removesuffix('_minor')}: {_money(value, currency)}"
        if name.endswith("_minor")
        else f"{name}: {value}"
        for name, value in told.items()
        if name not in {"record", "line"}
    )


def _money(minor: int, currency: str | None) -> str:
    try:
        return to_text(minor, currency or "")
    except UnknownCurrencyError:
        return f"{minor} (minor units)"
