"""Transactions: canonical lines of evidence, their older versions, and pages of them."""

from __future__ import annotations

import datetime as dt
from functools import cache
from typing import Any, Final
from uuid import UUID

import msgspec
from sqlalchemy import bindparam, select, tuple_

from stallkeep.store.connection import Connection
from stallkeep.store.query import Query
from stallkeep.store.statements import columns_of, find_by_id, here
from stallkeep.store.tables import transaction, transaction_version


class Transaction(msgspec.Struct, frozen=True, gc=False):
    """A transaction as it stands now."""

    id: UUID
    channel_id: UUID
    event_id: UUID | None
    version: int
    kind: str
    amount_minor: int
    currency: str
    occurred_on: dt.date
    occurred_at: dt.datetime | None
    external_id: str | None
    method: str | None
    fee_minor: int | None
    tip_minor: int | None
    tax_minor: int | None
    surcharge_minor: int | None
    postage_minor: int | None
    postage_cost_minor: int | None
    reference: str | None
    tag_code: str | None
    title: str | None
    quantity: int
    note: str | None
    related_id: str | None
    payout_id: str | None
    detail: str | None
    refunded_minor: int | None
    covers: list[str] | None
    more: dict[str, str] | None
    import_id: UUID | None
    record: int | None
    line: int | None
    ordered_at: dt.datetime
    match_state: str
    match_reason: str | None


class OlderVersion(msgspec.Struct, frozen=True, gc=False):
    """What a transaction said before an export changed it."""

    version: int
    kind: str
    amount_minor: int
    currency: str
    occurred_on: dt.date
    occurred_at: dt.datetime | None
    fee_minor: int | None
    tip_minor: int | None
    tax_minor: int | None
    title: str | None
    note: str | None
    detail: str | None
    import_id: UUID | None
    record: int | None
    line: int | None
    replaced_at: dt.datetime


class Filters(msgspec.Struct, frozen=True, kw_only=True):
    """Which transactions to list; None does not filter. Days are inclusive."""

    match_state: str | None = None
    event_id: UUID | None = None
    channel_id: UUID | None = None
    kind: str | None = None
    method: str | None = None
    from_on: dt.date | None = None
    to_on: dt.date | None = None
    import_id: UUID | None = None


_FIND: Final = find_by_id(transaction, Transaction)
_VERSIONS: Final = Query(
    select(*columns_of(transaction_version, OlderVersion))
    .where(
        here(transaction_version),
        transaction_version.c.transaction_id == bindparam("transaction_id"),
    )
    .order_by(transaction_version.c.version.desc()),
    OlderVersion,
)
_ATTACH: Final = """
update transaction t set event_id = $2
  from event e join event_day d on d.shop_id = e.shop_id and d.event_id = e.id
 where e.shop_id = $1 and e.id = $2 and t.shop_id = $1 and t.channel_id = e.channel_id
   and t.occurred_on = d.day and t.event_id is null and t.kind <> 'payout'
   and not exists (select from event o
                     join event_day od on od.shop_id = o.shop_id and od.event_id = o.id
                    where o.shop_id = $1 and o.channel_id = e.channel_id and o.id <> e.id
                      and od.day = d.day)
"""
# Money given back for a sale of an event is that event's, on whatever day it goes. The refunds are
# read once: joined as tables, they would be read again for each payment.
_REFUNDS_OF_IMPORT: Final = """
with r as materialized (
  select id, related_id from transaction
   where shop_id = $1 and import_id = $3 and channel_id = $2 and kind = 'refund'
     and event_id is null and related_id is not null)
update transaction t set event_id = p.event_id
  from r join transaction p on p.external_id = r.related_id
 where p.shop_id = $1 and p.channel_id = $2 and p.event_id is not null
   and p.kind in ('payment', 'sale') and t.shop_id = $1 and t.id = r.id
"""
_REFUNDS_OF_EVENT: Final = """
with e as materialized (
  select channel_id, starts_on, ends_on from event where shop_id = $1 and id = $2),
r as materialized (
  select t.id, t.related_id from e cross join lateral (
    select * from transaction where shop_id = $1 and channel_id = e.channel_id
       and ordered_at >= e.starts_on and ordered_at < e.ends_on + $3::integer offset 0) t
   where t.kind = 'refund' and t.event_id is null and t.related_id is not null)
update transaction t set event_id = $2
  from r join transaction p on p.external_id = r.related_id
 where p.shop_id = $1 and p.event_id = $2 and p.kind in ('payment', 'sale')
   and t.shop_id = $1 and t.id = r.id
"""
REFUND_DAYS: Final = 180
"""Refunds of an event's payments that came before the event was known are looked for so long."""
_HAS_EVENTS: Final = "select exists(select from event where shop_id = $1 and channel_id = $2)"
_DETACH: Final = """
update transaction t set event_id = null from event e
 where e.shop_id = $1 and e.id = $2 and t.shop_id = $1 and t.event_id = e.id
   and t.import_id is not null
   and (t.channel_id <> e.channel_id or not (
     exists (select from event_day d where d.shop_id = e.shop_id and d.event_id = e.id
                and d.day = t.occurred_on)
     or t.kind = 'refund' and exists (
       select from transaction p
         join event_day d on d.shop_id = e.shop_id and d.event_id = e.id and d.day = p.occurred_on
        where p.shop_id = $1 and p.channel_id = t.channel_id and p.external_id = t.related_id
          and p.event_id = e.id and p.kind in ('payment', 'sale'))))
"""


async def find_transaction(con: Connection, shop_id: UUID, id: UUID) -> Transaction | None:  # noqa: A002
    """Read one transaction."""
    return await _FIND.first(con, shop_id=shop_id, id=id)


async def versions_of(con: Connection, shop_id: UUID, transaction_id: UUID) -> list[OlderVersion]:
    """Read what a transaction said before, newest first."""
    return await _VERSIONS.all(con, shop_id=shop_id, transaction_id=transaction_id)


async def list_transactions(
    con: Connection,
    shop_id: UUID,
    filters: Filters,
    limit: int,
    after: tuple[dt.datetime, UUID] | None,
) -> list[Transaction]:
    """List transactions in order of time, one more than *limit* if there are."""
    given = {name: value for name, value in msgspec.structs.asdict(filters).items() if value}
    values: dict[str, object] = dict(given)
    if after is not None:
        values |= {"at": after[0], "last_id": after[1]}
    query = _page(frozenset(given), after is not None)
    return await query.all(con, shop_id=shop_id, limit=limit + 1, **values)


async def attach_to_event(con: Connection, shop_id: UUID, event_id: UUID) -> None:
    """Give an event the transactions of its channel and days that came before it was entered.

    Refunds that name a payment of its own are the event's on any day.
    """
    await con.execute(_ATTACH, shop_id, event_id)
    await con.execute(_REFUNDS_OF_EVENT, shop_id, event_id, REFUND_DAYS)


async def attach_refunds(con: Connection, shop_id: UUID, channel_id: UUID, import_id: UUID) -> None:
    """Give an import's refunds that name an event's payment to that event, whatever their day."""
    if await con.fetchval(_HAS_EVENTS, shop_id, channel_id):
        await con.execute(_REFUNDS_OF_IMPORT, shop_id, channel_id, import_id)


async def detach_from_event(con: Connection, shop_id: UUID, event_id: UUID) -> None:
    """Let go of imported transactions that are not of the event's channel and days any more."""
    await con.execute(_DETACH, shop_id, event_id)


@cache
def _page(filters: frozenset[str], goes_on: bool) -> Query[Transaction]:
    wanted: list[Any] = [here(transaction)]
    for name in sorted(filters):
        if name == "from_on":
            wanted.append(transaction.c.occurred_on >= bindparam(name))
        elif name == "to_on":
            wanted.append(transaction.c.occurred_on <= bindparam(name))
        else:
            wanted.append(transaction.c[name] == bindparam(name))
    if goes_on:
        order = tuple_(transaction.c.ordered_at, transaction.c.id)
        at = bindparam("at", type_=transaction.c.ordered_at.type)
        wanted.append(order > tuple_(at, bindparam("last_id", type_=transaction.c.id.type)))
    found = select(*columns_of(transaction, Transaction)).where(*wanted)
    ordered = found.order_by(transaction.c.ordered_at, transaction.c.id)
    return Query(ordered.limit(bindparam("limit")), Transaction)
