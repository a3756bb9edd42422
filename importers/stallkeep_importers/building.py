"""Columns of values → transactions, quickly."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import repeat
from typing import Any

from stallkeep_importers.contract import Transaction

_USUAL = (
    *("record", "line", "kind", "amount_minor", "currency", "occurred_on", "occurred_at"),
    *("external_id", "method", "fee_minor", "tip_minor", "tax_minor", "note", "detail", "more"),
)


def transactions(columns: Mapping[str, Sequence[Any] | None]) -> list[Transaction]:
    """Build one transaction per row.

    Args:
        columns: Field to its values by row; None for a field the file has no column for.
    """
    there = {field: values for field, values in columns.items() if values is not None}
    if there.keys() <= set(_USUAL):
        # a call with more than fifteen keywords goes through a dictionary, seven times slower
        rows = zip(*(there.get(field, repeat(None)) for field in _USUAL), strict=False)
        return [
            Transaction(
                record=record,
                line=line,
                kind=kind,
                amount_minor=amount,
                currency=currency,
                occurred_on=day,
                occurred_at=moment,
                external_id=external_id,
                method=method,
                fee_minor=fee,
                tip_minor=tip,
                tax_minor=tax,
                note=note,
                detail=detail,
                more=more,
            )
            for (
                record, line, kind, amount, currency, day, moment,
                external_id, method, fee, tip, tax, note, detail, more,
            ) in rows
        ]  # fmt: skip
    names = tuple(there)
    return [
        Transaction(**dict(zip(names, row, strict=True)))
        for row in zip(*there.values(), strict=True)
    ]
