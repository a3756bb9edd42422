"""What the check of payouts is read from."""

from __future__ import annotations

import datetime as dt
from typing import Final
from uuid import UUID

from stallkeep.store.connection import Connection, Row

_PERIOD: Final = """
   and ($3::date is null or t.occurred_on >= $3) and ($4::date is null or t.occurred_on <= $4)
 order by t.ordered_at, t.id
"""
_PAYOUTS: Final = f"""
select t.id, t.channel_id, coalesce(t.external_id, t.payout_id, t.id::text) as payout_id,
       t.amount_minor, t.occurred_on
  from transaction t left join import i on i.shop_id = t.shop_id and i.id = t.import_id
 where t.shop_id = $1 and t.kind = 'payout' and t.currency = $2
   and coalesce(i.importer, '') not like 'bank-%'
{_PERIOD}"""  # noqa: S608 - nothing from outside
# A channel's sale comes less its fee, the postage bought there, and what was given back of it. A
# refund or a charge without a fee told has none.
_PAID: Final = f"""
select t.id, t.occurred_on, t.payout_id,
       t.amount_minor - coalesce(t.refunded_minor, 0) as amount_minor,
       case when t.kind in ('payment', 'sale') then t.fee_minor + coalesce(t.postage_cost_minor, 0)
            else coalesce(t.fee_minor, 0) end as fee_minor
  from transaction t
 where t.shop_id = $1 and t.currency = $2 and t.channel_id = $5
   and t.kind in ('payment', 'sale', 'refund', 'adjustment', 'fee')
   and coalesce(t.method, 'card') <> 'cash' and t.import_id is not null
{_PERIOD}"""  # noqa: S608 - nothing from outside
# A charge of the bank's own is nobody's payout; other money out may be one that took money back.
_BANK: Final = f"""
select t.id, t.amount_minor, t.occurred_on, t.reference, t.external_id, t.payout_id, t.note
  from transaction t join import i on i.shop_id = t.shop_id and i.id = t.import_id
 where t.shop_id = $1 and t.currency = $2 and i.importer like 'bank-%' and t.kind <> 'fee'
{_PERIOD}"""  # noqa: S608 - nothing from outside


async def payouts(
    con: Connection,
    shop_id: UUID,
    currency: str,
    from_on: dt.date | None,
    to_on: dt.date | None,
) -> list[Row]:
    """Read what the providers of all channels say they sent."""
    return await con.fetch(_PAYOUTS, shop_id, currency, from_on, to_on)


async def paid_in(  # noqa: PLR0917 - a period of a channel
    con: Connection,
    shop_id: UUID,
    currency: str,
    from_on: dt.date | None,
    to_on: dt.date | None,
    channel_id: UUID,
) -> list[Row]:
    """Read the payments, sales, refunds and charges that payouts of a channel carry."""
    return await con.fetch(_PAID, shop_id, currency, from_on, to_on, channel_id)


async def bank_lines(
    con: Connection,
    shop_id: UUID,
    currency: str,
    from_on: dt.date | None,
    to_on: dt.date | None,
) -> list[Row]:
    """Read the money that arrived or left, from bank statements on any channel."""
    return await con.fetch(_BANK, shop_id, currency, from_on, to_on)
