"""What makes two rows of two exports the same real-world transaction.

A row with an outside id is known by kind and id. A row without is known by its content, and equal
rows are counted: the second of two equal sales in one minute is its own transaction. The fields
that identify a row without an id are few and fixed, so that an importer that learns to read one
more column does not make every old row look new.
"""

from __future__ import annotations

import hashlib
from typing import Final
from uuid import UUID

import msgspec

from stallkeep_importers.contract import Transaction

_LONGEST_ID: Final = 200
_encode = msgspec.json.Encoder().encode


def _digest(parts: object) -> bytes:
    return hashlib.blake2b(_encode(parts), digest_size=16).digest()


def has_outside_id(row_key: str) -> bool:
    """Tell whether a key came from an outside id (and not from the row's content)."""
    return row_key.startswith("i:")


def row_key(row: Transaction) -> str:
    """Name the real-world transaction behind a row, within its channel.

    Returns:
        ``i:<kind>:<outside id>``, or ``c:<hex digest>`` for a row without an id. An id longer
        than 200 characters is replaced by its digest.
    """
    outside = row.external_id
    if outside is None:
        return "c:" + _digest(_identity(row)).hex()
    if len(outside) > _LONGEST_ID:
        outside = "#" + _digest(outside).hex()
    return f"i:{row.kind}:{outside}"


def content_key(row: Transaction) -> UUID:
    """Digest of everything the row says; a known row with another digest is a new version."""
    return UUID(
        bytes=_digest(
            (
                _identity(row),
                row.external_id,
                row.fee_minor,
                row.tip_minor,
                row.tax_minor,
                row.surcharge_minor,
                row.postage_minor,
                row.postage_cost_minor,
                row.quantity,
                row.payout_id,
                row.detail,
                row.refunded_minor,
                row.covers,
                row.more,
            )
        )
    )


def _identity(row: Transaction) -> tuple[object, ...]:
    return (
        row.kind,
        row.occurred_on if row.occurred_at is None else row.occurred_at.timestamp(),
        row.amount_minor,
        row.currency,
        row.method,
        row.tag_code,
        row.reference,
        row.title,
        row.note,
        row.related_id,
    )
