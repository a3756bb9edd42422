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
select t.id, coalesce(t.external_id, t.payout_id, t.id::text) as payout_id, t.amount_minor,
       t.occurred_on
  from transaction t left join import i on i.shop_id = t.shop_id and i.id = t.import_id
 where t.shop_id = $1 and t.channel_id = $2 and t.kind = 'payout' and t.currency = $5
   and coalesce(i.importer, '') not like 'bank-%'
{_PERIOD}"""  # noqa: S608 - nothing from outside
_PAID: Final = f"""
select t.id, t.amount_minor, t.fee_minor, t.occurred_on, t.payout_id
  from transaction t
 where t.shop_id = $1 and t.channel_id = $2 and t.kind in ('payment', 'refund', 'adjustment')
   and t.currency = $5 and coalesce(t.method, 'card') <> 'cash' and t.import_id is not null
{_PERIOD}"""  # noqa: S608 - nothing from outside
_BANK: Final = f"""
select t.id, t.amount_minor, t.occurred_on
  from transaction t join import i on i.shop_id = t.shop_id and i.id = t.import_id
 where t.shop_id = $1 and t.currency = $2 and i.importer like 'bank-%' and t.amount_minor > 0
{_PERIOD}"""  # noqa: S608 - nothing from outside


async def payouts(  # noqa: PLR0917 - a period of a channel
    con: Connection,
    shop_id: UUID,
    channel_id: UUID,
    from_on: dt.date | None,
    to_on: dt.date | None,
    currency: str,
) -> list[Row]:
    """Read what the provider says it sent."""
    return await con.fetch(_PAYOUTS, shop_id, channel_id, from_on, to_on, currency)


async def paid_in(  # noqa: PLR0917 - a period of a channel
    con: Connection,
    shop_id: UUID,
    channel_id: UUID,
    from_on: dt.date | None,
    to_on: dt.date | None,
    currency: str,
) -> list[Row]:
    """Read the payments and refunds that payouts carry."""
    return await con.fetch(_PAID, shop_id, channel_id, from_on, to_on, currency)


async def bank_lines(
    con: Connection,
    shop_id: UUID,
    from_on: dt.date | None,
    to_on: dt.date | None,
    currency: str,
) -> list[Row]:
    """Read the money that arrived, from bank statements on any channel."""
    return await con.fetch(_BANK, shop_id, currency, from_on, to_on)
