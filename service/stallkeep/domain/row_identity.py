"""What makes two rows of two exports the same real-world transaction.

A row with an outside id is known by kind and id. A row without is known by its content, and equal
rows are counted: the second of two equal sales in one minute is its own transaction. The fields
that identify a row without an id are few and fixed, so that an importer that learns to read one
more column does not make every old row look new.

Everything here works on columns, because a file may have millions of rows.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any, Final, TypeAlias
from uuid import UUID

import msgspec

from stallkeep_importers.contract import Transaction

Columns: TypeAlias = Mapping[str, Sequence[Any]]
"""Field of a transaction → its value in each row."""

_FIELDS: Final = Transaction.__struct_fields__
_OTHER_IDENTITY: Final = (
    "amount_minor",
    "currency",
    "method",
    "tag_code",
    "reference",
    "title",
    "note",
    "related_id",
)
_BEYOND_IDENTITY: Final = (
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
_LONGEST_ID: Final = 200
_encode = msgspec.json.Encoder().encode


class Identified(msgspec.Struct, frozen=True):
    """Rows told apart.

    Attributes:
        row_keys: Name of the real-world transaction behind each row, within its channel:
            ``i:<kind>:<outside id>``, or ``c:<hex digest>`` for a row without an id. An id longer
            than 200 characters is replaced by its digest.
        content_keys: Digest of everything each row says, 32 hexadecimal digits; a known row with
            another digest is a new version.
    """

    row_keys: list[str]
    content_keys: list[str]


def columns_of(rows: Sequence[Transaction]) -> Columns:
    """Turn rows, at least one, into columns."""
    values = zip(*map(msgspec.structs.astuple, rows), strict=True)
    return dict(zip(_FIELDS, values, strict=True))


def seconds_of(columns: Columns) -> list[float | None]:
    """Give each row's moment in seconds since 1970, exact to the microsecond."""
    return [None if at is None else at.timestamp() for at in columns["occurred_at"]]


def identify(columns: Columns, seconds: Sequence[float | None]) -> Identified:
    """Find each row's keys; *seconds* as `seconds_of` gives them."""
    when = [
        day if second is None else second
        for day, second in zip(columns["occurred_on"], seconds, strict=True)
    ]
    identities = list(zip(columns["kind"], when, *_only(columns, _OTHER_IDENTITY), strict=True))
    contents = zip(identities, *_only(columns, _BEYOND_IDENTITY), strict=True)
    outside = zip(columns["kind"], columns["external_id"], identities, strict=True)
    return Identified(
        row_keys=[_row_key(kind, given, identity) for kind, given, identity in outside],
        content_keys=list(map(_digest, contents)),
    )


def content_key(row: Transaction) -> UUID:
    """Give one row's content key."""
    columns = columns_of([row])
    return UUID(identify(columns, seconds_of(columns)).content_keys[0])


def key_of_outside_id(kind: str, outside_id: str) -> str:
    """Give the row key of a row that has this outside id."""
    return _row_key(kind, outside_id, None)


def _only(columns: Columns, names: Sequence[str]) -> list[Sequence[Any]]:
    return [columns[name] for name in names]


def _row_key(kind: str, outside: str | None, identity: object) -> str:
    if outside is None:
        return "c:" + _digest(identity)
    if len(outside) > _LONGEST_ID:
        outside = "#" + _digest(outside)
    return f"i:{kind}:{outside}"


def _digest(parts: object) -> str:
    return hashlib.blake2b(_encode(parts), digest_size=16).hexdigest()
