"""The verdict on rows that need a closer look, once a file has ended.

A held row is decided on together with all other rows of its key in the file, those that were taken
at once included, so that slices make no difference. The verdict is one of

* ``new``      nothing like it is stored;
* ``known``    the same row is stored, as it stands or as an older version, or stands twice in
  this file under one outside id;
* ``changed``  a stored row of that identity says something else: the row becomes its next version.
"""

from __future__ import annotations

from uuid import UUID

import msgspec

from stallkeep.store.connection import Connection
from stallkeep.store.intake import (
    ALL_CONTENT,
    CONTENT,
    SliceTaken,
    Target,
    rows_in,
)

_s_content = ", ".join(f"s.{name}" for name in CONTENT)
_t_content = ", ".join(f"t.{name}" for name in CONTENT)

# The first row of its key in this file, so it comes before those that were held.
_TAKE_BACK = f"""
with back as (
  delete from transaction t
   where t.shop_id = $1 and t.channel_id = $2 and t.import_id = $3
     and t.row_key in (select row_key from intake)
  returning t.*
)
insert into intake (seq, id, row_key, content_key, match_state, ordered_at, event_id, {ALL_CONTENT})
select -row_number() over (), id, row_key, content_key, match_state, ordered_at, event_id,
       {ALL_CONTENT}
  from back
"""  # noqa: S608 - only column names of this module

_VERDICT = """
create temp table intake_verdict on commit drop as
with stored as (
  select t.row_key, t.id, t.occurrence, t.content_key from transaction t
   where t.shop_id = $1 and t.channel_id = $2
     and t.row_key in (select row_key from intake)
), ever as (
  select row_key, content_key from stored
  union select s.row_key, v.content_key from stored s join transaction_version v
     on v.shop_id = $1 and v.transaction_id = s.id
), ranked as (
  select seq, row_key, content_key, left(row_key, 2) = 'i:' as by_id,
         row_number() over (partition by row_key, content_key order by seq) as again,
         row_number() over (partition by row_key order by seq) as nth
    from intake
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
   where not exists (select from intake c
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

_INSERT_NEW = f"""
insert into transaction (shop_id, channel_id, import_id, event_id, id, row_key, occurrence,
                         content_key, match_state, ordered_at, {ALL_CONTENT})
select $1, $2, $3, s.event_id, s.id, s.row_key, v.occurrence, s.content_key, s.match_state,
       s.ordered_at, {_s_content}
  from intake s join intake_verdict v on v.seq = s.seq and v.verdict = 'new'
 order by s.seq
"""  # noqa: S608 - only column names of this module

_KEEP_OLD = f"""
insert into transaction_version (shop_id, transaction_id, version, content_key, import_id,
                                 replaced_by_import_id, {ALL_CONTENT})
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


async def decide(con: Connection, target: Target, counted: SliceTaken) -> Taken:
    """Decide on the rows that were held, once all slices are in."""
    if not counted.held:
        return Taken(new=counted.new, known=0, changed_ids=())
    where = (target.shop_id, target.channel_id)
    back = rows_in(await con.execute(_TAKE_BACK, *where, target.import_id)) if counted.new else 0
    await con.execute(_VERDICT, *where)
    fresh = rows_in(await con.execute(_INSERT_NEW, *where, target.import_id))
    await con.execute(_KEEP_OLD, target.shop_id, target.import_id)
    changed = await con.fetch(_REPLACE, target.shop_id, target.import_id)
    changed_ids = tuple(record["id"] for record in changed)
    return Taken(
        new=counted.new - back + fresh,
        known=counted.held + back - fresh - len(changed_ids),
        changed_ids=changed_ids,
    )
