"""Words of different people that contradict each other: the later one counts, and it is shown.

A person who says something else than before has changed their mind; that is no contradiction.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from uuid import UUID

from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id

# Within one transaction of the database now() stands still: a word withdrawn now gave way to this.
_ABOUT_PAYMENT: Final = """
insert into conflict (shop_id, id, kind, transaction_id, event_id, detail)
select $1, $4, 'words-contradict', t.id, t.event_id,
       format('%s said something else about this payment than %s did before. The later word '
              'counts until somebody changes it.', $3::text, old.said_by)
  from transaction t
 cross join lateral (
   select said_by from ruling r
    where r.shop_id = $1 and r.transaction_id = t.id and r.withdrawn_at = now()
      and r.said_by <> $3
      and not exists (
        select from ruling s
         where s.shop_id = $1 and s.transaction_id = t.id and s.withdrawn_at is null
           and s.kind = r.kind and s.item_ids = r.item_ids
           and s.pieces is not distinct from r.pieces
           and s.related_transaction_id is not distinct from r.related_transaction_id)
    order by said_at desc, id desc limit 1) old
 where t.shop_id = $1 and t.id = $2
   and not exists (
     select from conflict c where c.shop_id = $1 and c.transaction_id = t.id
        and c.kind = 'words-contradict' and c.state = 'open')
"""
_ABOUT_PIECE: Final = """
insert into conflict (shop_id, id, kind, item_id, event_id, detail)
select $1, $5, 'looks-contradict', i.id, $2,
       format('Of %s (%s), %s saw %s still there, and %s saw %s before. The later look counts '
              'until somebody looks again.',
              i.title, i.tag_code, $4::text, new.still_here, old.said_by, old.still_here)
  from item i
  join piece_ruling new on new.shop_id = $1 and new.event_id = $2 and new.item_id = i.id
   and new.withdrawn_at is null
  join piece_ruling old on old.shop_id = $1 and old.event_id = $2 and old.item_id = i.id
   and old.withdrawn_at = now()
 where i.shop_id = $1 and i.id = $3 and old.said_by <> $4 and old.still_here <> new.still_here
   and not exists (
     select from conflict c where c.shop_id = $1 and c.item_id = i.id and c.event_id = $2
        and c.kind = 'looks-contradict' and c.state = 'open')
"""
# Everybody's last word, unless it was taken back: then no other word was said at that moment.
_AGREED: Final = """
update conflict set state = 'settled', settled_at = now(), settled_by = $3
 where shop_id = $1 and transaction_id = $2 and state = 'open' and kind = 'words-contradict'
   and not exists (
     select from (
       select distinct on (r.said_by, r.kind = 'count') r.* from ruling r
        where r.shop_id = $1 and r.transaction_id = $2 and r.kind <> 'apart'
          and (r.withdrawn_at is null or exists (
                 select from ruling s where s.shop_id = $1 and s.transaction_id = $2
                    and s.said_at = r.withdrawn_at))
        order by r.said_by, r.kind = 'count', r.said_at desc, r.id desc) mine
      where (mine.kind = 'refused') = exists (
        select from ruling s
         where s.shop_id = $1 and s.transaction_id = $2 and s.withdrawn_at is null
           and s.kind = case mine.kind when 'refused' then 'confirmed' else mine.kind end
           and s.item_ids = mine.item_ids
           and s.pieces is not distinct from mine.pieces
           and s.related_transaction_id is not distinct from mine.related_transaction_id))
"""
_REFUSED: Final = """
update conflict set state = 'settled', settled_at = now(), settled_by = $3
 where shop_id = $1 and transaction_id = $2 and state = 'open' and kind = 'second-claim'
   and item_id = any($4)
"""
# What was asked of a person about a payment: a claim in vain, money that may stand twice, an amount
# that changed after it was matched by hand. What is said next answers it.
_ANSWERED: Final = """
update conflict set state = 'settled', settled_at = now(), settled_by = $3
 where shop_id = $1 and transaction_id = $2 and state = 'open'
   and kind in ('second-claim', 'perhaps-entered-twice', 'changed-after-decision')
"""


async def show_contradicting_words(
    con: Connection, shop_id: UUID, transaction_id: UUID, by: str
) -> None:
    """Raise a conflict if what was just said of a transaction replaced another person's word.

    One that stands open is settled once everybody's last word agrees with what stands.
    """
    await con.execute(_ABOUT_PAYMENT, shop_id, transaction_id, by, new_id())
    await con.execute(_AGREED, shop_id, transaction_id, by)


async def show_contradicting_looks(
    con: Connection, shop_id: UUID, event_id: UUID, item_id: UUID, by: str
) -> None:
    """Raise a conflict if somebody just saw another number of a piece than somebody else did."""
    await con.execute(_ABOUT_PIECE, shop_id, event_id, item_id, by, new_id())


async def settle_what_was_asked(
    con: Connection, shop_id: UUID, transaction_id: UUID, by: str
) -> None:
    """Settle the conflicts that asked what a transaction is, now that a person has said it."""
    await con.execute(_ANSWERED, shop_id, transaction_id, by)


async def settle_refused_claims(
    con: Connection, shop_id: UUID, transaction_id: UUID, item_ids: Sequence[UUID], by: str
) -> None:
    """Settle claims to these pieces: a person has said that the transaction was not for them."""
    await con.execute(_REFUSED, shop_id, transaction_id, by, list(item_ids))
