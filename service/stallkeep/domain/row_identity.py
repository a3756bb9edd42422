"""What makes two rows of two exports the same real-world transaction.

A row with an outside id is known by kind and id. A row without is known by its content, and equal
rows are counted: the second of two equal sales in one minute is its own transaction. The fields
that identify a row without an id are few and fixed, so that an importer that learns to read one
more column does not make every old row look new.
"""

from __future__ import annotations

import hashlib
from operator import attrgetter
from typing import Final
from uuid import UUID

import msgspec

from stallkeep_importers.contract import Transaction

_LONGEST_ID: Final = 200
_encode = msgspec.json.Encoder().encode


def _digest(parts: object) -> bytes:
    return hashlib.blake2b(_encode(parts), digest_size=16).digest()


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
    return UUID(bytes=content_digest(row))


def content_digest(row: Transaction) -> bytes:
    """Give the 16 bytes of `content_key`."""
    return _digest((_identity(row), *_beyond_identity(row)))


_other_identity = attrgetter(
    "amount_minor", "currency", "method", "tag_code", "reference", "title", "note", "related_id"
)
_beyond_identity = attrgetter(
    "external_id",
    "fee_minor",
    "tip_minor",
    "tax_minor",
    "surcharge_minor",
    "postage_minor",
    "postage_cost_minor",
    "quantity",
    "payout_id",
    "detail",
    "refunded_minor",
    "covers",
    "more",
)


def _identity(row: Transaction) -> tuple[object, ...]:
    at = row.occurred_at
    return (row.kind, row.occurred_on if at is None else at.timestamp(), *_other_identity(row))
