"""Evidence that comes from a sale itself: cash needs no export to be believed."""

from __future__ import annotations

import datetime as dt
from typing import Final
from uuid import UUID

import msgspec

from stallkeep.domain.row_identity import content_key
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.store.sales import Sale
from stallkeep_importers.contract import Transaction

_ADD: Final = """
insert into transaction (shop_id, id, channel_id, row_key, content_key, kind, amount_minor,
                         currency, occurred_on, occurred_at, method, related_id, ordered_at,
                         event_id, match_state, tax_minor)
values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16)
"""
_RELEASE_MATCH: Final = "delete from match where shop_id = $1 and sale_id = $2"
# What was a contradiction because of a payment, or a refund of it, is none without it.
_DROP_CONFLICTS: Final = """
delete from conflict c using transaction t
 where c.shop_id = $1 and c.transaction_id = $2
   and t.shop_id = $1 and t.id = c.transaction_id and t.import_id is null
"""
_DROP_REFUNDS_OF: Final = """
with gone as (
  delete from match m using transaction t
   where m.shop_id = $1 and m.related_transaction_id = $2
     and t.shop_id = $1 and t.id = $2 and t.import_id is null
  returning m.transaction_id
)
update transaction r set match_state = 'unmatched', match_reason = $3
  from gone where r.shop_id = $1 and r.id = gone.transaction_id
"""
_TAKE_BACK: Final = """
delete from transaction t where t.shop_id = $1 and t.id = $2 and t.import_id is null
"""
_OPEN_AGAIN: Final = """
update transaction set match_state = 'unmatched', match_reason = $3
 where shop_id = $1 and id = $2 and import_id is not null
"""


_GIVEN_BACK: Final = """
select coalesce(-sum(amount_minor), 0)::bigint from transaction
 where shop_id = $1 and channel_id = $2 and row_key = any($3)
"""


class OwnLine(msgspec.Struct, frozen=True, kw_only=True):
    """A line of evidence made here and not by an import.

    Attributes:
        row_key: What makes it this line and no other.
        row: Kind, amount, time and method.
        ordered_at: Its place among the others.
        match_state: matched or not_needed.
    """

    row_key: str
    row: Transaction
    ordered_at: dt.datetime
    match_state: str


def refund_key(sale_id: UUID, version: int) -> str:
    """Name the refund that was entered when a sale had this version."""
    return f"return:{sale_id}:{version}"


async def add_line(con: Connection, shop_id: UUID, sale: Sale, line: OwnLine) -> UUID:
    """Write one line of evidence, on the channel and event of a sale."""
    row = line.row
    transaction_id = new_id()
    await con.execute(
        _ADD,
        shop_id,
        transaction_id,
        sale.channel_id,
        line.row_key,
        content_key(row),
        row.kind,
        row.amount_minor,
        row.currency,
        row.occurred_on,
        row.occurred_at,
        row.method,
        row.related_id,
        line.ordered_at,
        sale.event_id,
        line.match_state,
        row.tax_minor,
    )
    return transaction_id


async def release_payment(con: Connection, shop_id: UUID, sale: Sale, reason: str) -> None:
    """Part a sale from its payment: one of our own goes, an imported one is open again."""
    await con.execute(_RELEASE_MATCH, shop_id, sale.id)
    if sale.transaction_id is not None:
        await con.execute(
            "update sale set transaction_id = null where shop_id = $1 and id = $2",
            shop_id,
            sale.id,
        )
        await con.execute(_DROP_CONFLICTS, shop_id, sale.transaction_id)
        await con.execute(_DROP_REFUNDS_OF, shop_id, sale.transaction_id, reason)
        await con.execute(_TAKE_BACK, shop_id, sale.transaction_id)
        await con.execute(_OPEN_AGAIN, shop_id, sale.transaction_id, reason)


async def given_back(con: Connection, shop_id: UUID, sale: Sale) -> int:
    """Add up what was given back for a sale and entered here, as a plus amount."""
    keys = [refund_key(sale.id, version) for version in range(1, sale.version + 1)]
    sum_minor: int = await con.fetchval(_GIVEN_BACK, shop_id, sale.channel_id, keys)
    return sum_minor
