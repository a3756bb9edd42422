"""Taking canonical rows in exactly once: staged by COPY, then decided on by a few statements.

PostgreSQL refuses COPY into a table behind row level security, so rows are staged in temporary
tables of the import's own transaction. Every statement here runs inside that one transaction, under
a lock for the shop and channel, so that two uploads of one file wait for each other.

The verdict on a staged row is one of

* ``new``      nothing like it is stored;
* ``known``    the same row is stored, as it stands or as an older version, or stands twice in
  this file under one outside id;
* ``changed``  a stored row of that identity says something else: the row becomes its next version.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any, Final
from uuid import UUID

import msgspec

from stallkeep.store.engine import Connection
from stallkeep_importers.contract import Reject, Transaction

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
_STAGED: Final = ("seq", "id", "row_key", "content_key", "match_state", "ordered_at", *CONTENT)
_REJECT: Final = ("record", "line", "code", "column_name", "value", "reason", "advice", "cells")

_content = ", ".join(CONTENT)
_s_content = ", ".join(f"s.{name}" for name in CONTENT)
_t_content = ", ".join(f"t.{name}" for name in CONTENT)

_STAGE = """
create temp table intake (
  seq bigint, id uuid, row_key text, content_key uuid, match_state text, ordered_at timestamptz,
  kind text, amount_minor bigint, currency text, occurred_on date, occurred_at timestamptz,
  external_id text, method text, fee_minor bigint, tip_minor bigint, tax_minor bigint,
  surcharge_minor bigint, postage_minor bigint, postage_cost_minor bigint, reference text,
  tag_code text, title text, quantity integer, note text, related_id text, payout_id text,
  detail text, refunded_minor bigint, covers text[], more jsonb, record bigint, line bigint
) on commit drop;
create temp table intake_reject (
  record bigint, line bigint, code text, column_name text, value text, reason text, advice text,
  cells jsonb
) on commit drop
"""

_LOCK = "select pg_advisory_xact_lock(hashtextextended($1, 0))"

# Rows that need a closer look: their key is stored already or stands more than once in this file.
_CLOSER = """
create temp table intake_closer on commit drop as
select s.seq, s.row_key, s.content_key, left(s.row_key, 2) = 'i:' as by_id from intake s
 where s.row_key in (select row_key from intake group by row_key having count(*) > 1)
    or exists (select from transaction t
                where t.shop_id = $1 and t.channel_id = $2 and t.row_key = s.row_key)
"""

_VERDICT = """
create temp table intake_verdict on commit drop as
with stored as (
  select t.row_key, t.id, t.occurrence, t.content_key from transaction t
   where t.shop_id = $1 and t.channel_id = $2
     and t.row_key in (select row_key from intake_closer)
), ever as (
  select row_key, content_key from stored
  union select s.row_key, v.content_key from stored s join transaction_version v
     on v.shop_id = $1 and v.transaction_id = s.id
), ranked as (
  select c.*, row_number() over (partition by row_key, content_key order by seq) as again,
         row_number() over (partition by row_key order by seq) as nth
    from intake_closer c
), id_fresh as (
  select r.seq, r.row_key, row_number() over (partition by r.row_key order by r.seq) as k
    from ranked r
   where r.by_id and r.again = 1
     and not exists (select from ever e
                      where e.row_key = r.row_key and e.content_key = r.content_key)
), id_free as (
  select s.row_key, s.id, s.occurrence,
         row_number() over (partition by s.row_key order by s.occurrence) as k
    from stored s
   where not exists (select from intake_closer c
                      where c.row_key = s.row_key and c.content_key = s.content_key)
), last as (
  select row_key, max(occurrence) as occurrence, count(*) as n from stored group by row_key
), free as (
  select row_key, count(*) as n from id_free group by row_key
)
select f.seq, case when e.id is null then 'new' else 'changed' end as verdict, e.id as target_id,
       coalesce(e.occurrence,
                coalesce(l.occurrence, 0) + f.k - coalesce(fr.n, 0))::integer as occurrence
  from id_fresh f
  left join id_free e on e.row_key = f.row_key and e.k = f.k
  left join last l on l.row_key = f.row_key
  left join free fr on fr.row_key = f.row_key
union all
select r.seq,
       case when s.id is null then 'new'
            when exists (select from ever e
                          where e.row_key = r.row_key and e.content_key = r.content_key)
            then 'known' else 'changed' end,
       s.id, r.nth::integer
  from ranked r left join stored s on s.row_key = r.row_key and s.occurrence = r.nth
 where not r.by_id
"""

_DAYS = """
with days as (
  select d.day, (array_agg(e.id))[1] as event_id
    from event e join event_day d on d.shop_id = e.shop_id and d.event_id = e.id
   where e.shop_id = $1 and e.channel_id = $2 and ($4::uuid is null or e.id = $4)
   group by d.day having count(*) = 1
)
"""

_INSERT_SIMPLE = f"""
{_DAYS}
insert into transaction (shop_id, channel_id, import_id, event_id, id, row_key, content_key,
                         match_state, ordered_at, {_content})
select $1, $2, $3, d.event_id, s.id, s.row_key, s.content_key, s.match_state, s.ordered_at,
       {_s_content}
  from intake s left join days d on d.day = s.occurred_on
 where not exists (select from intake_closer c where c.seq = s.seq)
 order by s.seq
"""  # noqa: S608 - only column names of this module

_INSERT_CLOSER = f"""
{_DAYS}
insert into transaction (shop_id, channel_id, import_id, event_id, id, row_key, occurrence,
                         content_key, match_state, ordered_at, {_content})
select $1, $2, $3, d.event_id, s.id, s.row_key, v.occurrence, s.content_key, s.match_state,
       s.ordered_at, {_s_content}
  from intake s join intake_verdict v on v.seq = s.seq and v.verdict = 'new'
  left join days d on d.day = s.occurred_on
 order by s.seq
"""  # noqa: S608 - only column names of this module

_KEEP_OLD = f"""
insert into transaction_version (shop_id, transaction_id, version, content_key, import_id,
                                 replaced_by_import_id, {_content})
select t.shop_id, t.id, t.version, t.content_key, t.import_id, $2, {_t_content}
  from transaction t join intake_verdict v on v.target_id = t.id and v.verdict = 'changed'
 where t.shop_id = $1
"""  # noqa: S608 - only column names of this module

_set_content = ", ".join(f"{name} = s.{name}" for name in CONTENT)
_REPLACE = f"""
update transaction t
   set version = t.version + 1, content_key = s.content_key, ordered_at = s.ordered_at,
       import_id = $2, {_set_content}
  from intake_verdict v join intake s on s.seq = v.seq
 where v.verdict = 'changed' and t.shop_id = $1 and t.id = v.target_id
returning t.id
"""  # noqa: S608 - only column names of this module

_INSERT_REJECTS = """
insert into reject (shop_id, import_id, record, line, code, column_name, value, reason, advice,
                    cells)
select $1, $2, record, line, code, column_name, value, reason, advice, cells from intake_reject
"""


class Taken(msgspec.Struct, frozen=True, kw_only=True):
    """What became of the staged rows.

    Attributes:
        new: Rows stored for the first time.
        known: Rows that were stored already.
        changed_ids: Transactions that got a new version.
    """

    new: int
    known: int
    changed_ids: tuple[UUID, ...]


async def open_staging(con: Connection) -> None:
    """Make this transaction's staging tables."""
    await con.execute(_STAGE)


async def stage(con: Connection, rows: Sequence[tuple[Any, ...]]) -> None:
    """Copy rows made by `staged_row` into the staging table."""
    await con.copy_records_to_table("intake", records=rows, columns=_STAGED)


async def stage_rejects(con: Connection, rejects: Sequence[Reject]) -> None:
    """Copy rejects into their staging table."""
    records = [
        (r.record, r.line, r.code, r.column, r.value, r.reason, r.advice, list(r.cells))
        for r in rejects
    ]
    await con.copy_records_to_table("intake_reject", records=records, columns=_REJECT)


def staged_row(
    *,
    seq: int,
    row_id: UUID,
    row_key: str,
    content_key: UUID,
    match_state: str,
    ordered_at: dt.datetime,
    row: Transaction,
) -> tuple[Any, ...]:
    """Lay one canonical transaction out in the staging table's columns."""
    return (
        seq,
        row_id,
        row_key,
        content_key,
        match_state,
        ordered_at,
        row.kind,
        row.amount_minor,
        row.currency,
        row.occurred_on,
        row.occurred_at,
        row.external_id,
        row.method,
        row.fee_minor,
        row.tip_minor,
        row.tax_minor,
        row.surcharge_minor,
        row.postage_minor,
        row.postage_cost_minor,
        row.reference,
        row.tag_code,
        row.title,
        row.quantity,
        row.note,
        row.related_id,
        row.payout_id,
        row.detail,
        row.refunded_minor,
        row.covers,
        row.more,
        row.record,
        row.line,
    )


async def lock_channel(con: Connection, shop_id: UUID, channel_id: UUID | None) -> None:
    """Wait until no other import of this shop and channel is writing."""
    await con.execute(_LOCK, f"intake/{shop_id}/{channel_id}")


async def merge(
    con: Connection, shop_id: UUID, channel_id: UUID, import_id: UUID, event_id: UUID | None
) -> Taken:
    """Decide on every staged row and store what is new or changed.

    A new row belongs to the event of its channel that is held on its day; where there are
    several, to *event_id* or to none. The caller holds the channel's lock.
    """
    closer = _rows(await con.execute(_CLOSER, shop_id, channel_id))
    if closer:
        await con.execute(_VERDICT, shop_id, channel_id)
    simple = _rows(await con.execute(_INSERT_SIMPLE, shop_id, channel_id, import_id, event_id))
    if not closer:
        return Taken(new=simple, known=0, changed_ids=())
    fresh = _rows(await con.execute(_INSERT_CLOSER, shop_id, channel_id, import_id, event_id))
    await con.execute(_KEEP_OLD, shop_id, import_id)
    changed = await con.fetch(_REPLACE, shop_id, import_id)
    changed_ids = tuple(record["id"] for record in changed)
    return Taken(
        new=simple + fresh,
        known=closer - fresh - len(changed_ids),
        changed_ids=changed_ids,
    )


async def store_rejects(con: Connection, shop_id: UUID, import_id: UUID) -> None:
    """Keep the staged rejects with their import."""
    await con.execute(_INSERT_REJECTS, shop_id, import_id)


def _rows(status: str) -> int:
    return int(status.rsplit(" ", 1)[-1])
