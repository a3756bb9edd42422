"""Taking canonical rows in exactly once: staged by COPY, then decided on by a few statements.

PostgreSQL refuses COPY into a table behind row level security, so rows are staged in temporary
tables of the import's own transaction. Every statement here runs inside that one transaction, under
a lock for the shop and channel, so that two uploads of one file wait for each other.

Rows come in slices, while the file is still being read. A row whose key is not stored yet is taken
at once, which is all that happens to most files. A row that needs a closer look, because its key is
stored already or stands twice, is held until the file has ended (`intake_verdict`).
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import AsyncIterator, Sequence
from typing import Final
from uuid import UUID

import msgspec

from stallkeep.store.connection import Connection
from stallkeep_importers.contract import Reject

CONTENT: Final = (
    "kind",
    "amount_minor",
    "currency",
    "occurred_on",
    "occurred_at",
    "external_id",
    "method",
    "fee_minor",
    "tip_minor",
    "tax_minor",
    "surcharge_minor",
    "postage_minor",
    "postage_cost_minor",
    "reference",
    "tag_code",
    "title",
    "quantity",
    "note",
    "related_id",
    "payout_id",
    "detail",
    "refunded_minor",
    "covers",
    "more",
    "record",
    "line",
)
_PIECE_BYTES: Final = 1 << 20
_REJECT: Final = ("record", "line", "code", "column_name", "value", "reason", "advice", "cells")

ALL_CONTENT = ", ".join(CONTENT)

_COLUMNS = """
  seq bigint, id uuid, row_key text, content_key uuid, match_state text, event_id uuid,
  again boolean not null default false,
  kind text, amount_minor bigint, currency text, occurred_on date,
  external_id text, method text, fee_minor bigint, tip_minor bigint, tax_minor bigint,
  surcharge_minor bigint, postage_minor bigint, postage_cost_minor bigint, reference text,
  tag_code text, title text, quantity integer not null default 1, note text, related_id text,
  payout_id text, detail text, refunded_minor bigint, covers text[], more jsonb, record bigint,
  line bigint
"""
# Moments come as seconds since 1970: both sides write and read a number in half the time of a date.
_STAGE = f"""
create temp table intake ({_COLUMNS}, occurred_at timestamptz, ordered_at timestamptz)
  on commit drop;
create temp table intake_slice ({_COLUMNS}, occurred_seconds float8, ordered_seconds float8)
  on commit drop;
create temp table intake_reject (
  record bigint, line bigint, code text, column_name text, value text, reason text, advice text,
  cells jsonb
) on commit drop
"""

_LOCK = "select pg_advisory_xact_lock(hashtextextended($1, 0))"

# Each slice looks its keys up one by one in the index on keys, whatever the statistics say: they
# may be missing or old, and any other plan would read all that is stored for each row or slice.
# "offset 0" keeps it a look-up, and only that index needs no sorting to give the order.
_BEGIN_SLICE = "set local enable_seqscan = off; set local enable_sort = off"
_END_SLICE = "truncate intake_slice; set local enable_seqscan = on; set local enable_sort = on"
_STORED = """
exists (select from transaction t where t.shop_id = $1 and t.channel_id = $2
           and t.row_key = s.row_key {but} order by t.occurrence offset 0)
"""

_KEPT = f"event_id, id, row_key, content_key, match_state, ordered_at, {ALL_CONTENT}"
_GIVEN = _KEPT.replace(" occurred_at", " to_timestamp(occurred_seconds)").replace(
    " ordered_at", " to_timestamp(coalesce(ordered_seconds, occurred_seconds))"
)

_TAKE_NEW = f"""
insert into transaction (shop_id, channel_id, import_id, {_KEPT})
select $1, $2, $3, {_GIVEN}
  from intake_slice s
 where not s.again and not {_STORED.format(but="")}
"""  # noqa: S608 - only column names of this module

_HOLD_OTHERS = f"""
insert into intake (seq, again, {_KEPT})
select seq, again, {_GIVEN}
  from intake_slice s
 where s.again or {_STORED.format(but="and t.id <> s.id")}
"""  # noqa: S608 - likewise

_EVENT_DAYS = """
select d.day, e.id from event e join event_day d on d.shop_id = e.shop_id and d.event_id = e.id
 where e.shop_id = $1 and e.channel_id = $2
   for key share of e
"""

_INSERT_REJECTS = """
insert into reject (shop_id, import_id, record, line, code, column_name, value, reason, advice,
                    cells)
select $1, $2, record, line, code, column_name, value, reason, advice, cells from intake_reject
"""


class Target(msgspec.Struct, frozen=True):
    """Where rows belong."""

    shop_id: UUID
    channel_id: UUID
    import_id: UUID
    event_id: UUID | None


class Slice(msgspec.Struct, frozen=True):
    """Some rows in file order, ready to be staged.

    Attributes:
        count: How many.
        columns: Columns of the staging table that are filled.
        text: The rows, as COPY reads text.
    """

    count: int
    columns: Sequence[str]
    text: bytes


class SliceTaken(msgspec.Struct, frozen=True):
    """What became of rows before the file has ended.

    Attributes:
        new: Taken at once.
        held: Wait for the end.
    """

    new: int = 0
    held: int = 0

    def __add__(self, other: SliceTaken) -> SliceTaken:
        return SliceTaken(self.new + other.new, self.held + other.held)


async def open_staging(con: Connection) -> None:
    """Make this transaction's staging tables."""
    await con.execute(_STAGE)


async def stage_rejects(con: Connection, rejects: Sequence[Reject]) -> None:
    """Copy rejects into their staging table."""
    records = [
        (
            r.record,
            r.line,
            r.code,
            r.column,
            None if r.value is None else _storable(r.value),
            _storable(r.reason),
            r.advice,
            [_storable(cell) for cell in r.cells],
        )
        for r in rejects
    ]
    await con.copy_records_to_table("intake_reject", records=records, columns=_REJECT)


def _storable(text: str) -> str:
    """Show a NUL, which no column can hold, by its picture; a reject is kept whole."""
    return text.replace("\0", "\u2400")


async def lock_channel(con: Connection, shop_id: UUID, channel_id: UUID | None) -> None:
    """Wait until no other import of this shop and channel is writing."""
    await con.execute(_LOCK, f"intake/{shop_id}/{channel_id}")


async def event_days(con: Connection, target: Target) -> dict[dt.date, UUID]:
    """Give the days of the channel's events; they stay until the transaction ends.

    Where several events are held on one day, the day is the import's own event's or nobody's.
    """
    found: dict[dt.date, set[UUID]] = defaultdict(set)
    for day, event_id in await con.fetch(_EVENT_DAYS, target.shop_id, target.channel_id):
        found[day].add(event_id)
    own = target.event_id
    return {
        day: own if own in events else next(iter(events))
        for day, events in found.items()
        if own in events or len(events) == 1
    }


async def take_slice(con: Connection, target: Target, rows: Slice) -> SliceTaken:
    """Take what is plainly new of some rows, and hold the others.

    The caller holds the channel's lock.
    """
    await con.execute(_BEGIN_SLICE)
    await con.copy_to_table("intake_slice", source=_pieces(rows.text), columns=rows.columns)
    where = (target.shop_id, target.channel_id)
    new = rows_in(await con.execute(_TAKE_NEW, *where, target.import_id))
    if new < rows.count:
        await con.execute(_HOLD_OTHERS, *where)
    await con.execute(_END_SLICE)
    return SliceTaken(new=new, held=rows.count - new)


async def _pieces(text: bytes) -> AsyncIterator[bytes]:
    for start in range(0, len(text), _PIECE_BYTES):
        yield text[start : start + _PIECE_BYTES]


async def store_rejects(con: Connection, shop_id: UUID, import_id: UUID) -> None:
    """Keep the staged rejects with their import."""
    await con.execute(_INSERT_REJECTS, shop_id, import_id)


def rows_in(status: str) -> int:
    """Read how many rows a statement says it has touched."""
    return int(status.rsplit(" ", 1)[-1])
