"""What a shop's year is added up from, summed by the database as far as sums go.

Fees and taxes that no export tells are worked out later; so payments that need one are grouped by
the amount it is worked out from, and every group is exact.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Final
from uuid import UUID

from stallkeep.domain.tax_terms import TaxTerms
from stallkeep.store.connection import Connection, Row

_YEAR: Final = """
t.shop_id = $1 and t.occurred_on between $2 and $3 and t.currency = $4 and t.kind <> 'payout'
   and t.ordered_at >= $5 and t.ordered_at < $6
"""
# As `told_tax` says it for the payments of an event; joined at once it is quicker for many.
_TOLD: Final = """
    left join sale told
      on {is_wanted} and told.shop_id = $1 and told.transaction_id = t.id and told.state = 'done'
     and told.tax_minor is not null and told.total_minor = t.amount_minor - coalesce(t.tip_minor, 0)
"""
# The tax terms by their place: those of the event's first day, else of the day itself.
_PERIOD: Final = "width_bucket(coalesce(e.starts_on, {day}), $8::date[])"
# Tax on top of prices is worked out for a stall only: what an online channel asks
# for it often keeps and does not show, and of a direct sale the sale rung up tells.
_IS_WORKED_OUT: Final = """case ($9::text[])[{period} + 1] when 'none' then false
      when 'added' then e.id is not null or c.kind = 'stall' else true end"""
_LINES: Final = f"""
with aside as (
  select distinct on (transaction_id) transaction_id, is_income from ruling
   where shop_id = $1 and kind = 'set_aside' and withdrawn_at is null
   order by transaction_id, said_at desc),
exempt as (
  select s.transaction_id, sum(sl.price_minor)::bigint as pieces_minor,
         coalesce(sum(sl.price_minor) filter (where i.margin_scheme), 0)::bigint as margin_minor
    from item i join sale_line sl on sl.shop_id = i.shop_id and sl.item_id = i.id
    join sale s on s.shop_id = sl.shop_id and s.id = sl.sale_id and s.state = 'done'
   where $7 and i.shop_id = $1 and (i.margin_scheme or true = any($10::bool[]))
   group by s.transaction_id),
line as (
  select t.id, t.kind, t.occurred_on, t.channel_id, t.event_id, t.method, t.amount_minor,
         t.fee_minor, coalesce(t.tax_minor, told.tax_minor) as tax_minor,
         coalesce(t.tip_minor, 0) as tip_minor,
         coalesce(t.postage_minor, 0) as postage_minor,
         coalesce(t.postage_cost_minor, 0) as postage_cost_minor,
         t.match_state in ('unmatched', 'proposed', 'not_needed') as is_open,
         t.match_state = 'matched' as is_matched
    from transaction t {_TOLD.format(is_wanted="$7")} where {_YEAR}
  union all
  select t.id, 'refund', t.occurred_on, t.channel_id, t.event_id, t.method, -t.refunded_minor,
         null, null, 0, 0, 0, false, false
    from transaction t where {_YEAR} and t.refunded_minor <> 0 and t.kind in ('payment', 'sale'))
select extract(month from l.occurred_on)::int as month, l.channel_id, l.event_id,
       case when l.kind = 'fee' then 'fees'
            when l.kind in ('payment', 'sale') and l.amount_minor >= 0 then 'takings'
            else 'refunds' end as account,
       coalesce(a.is_income, true) as is_income,
       case when l.fee_minor is null and l.kind <> 'fee'
                 and (l.method = 'card' or l.event_id is null and c.kind = 'online')
            then l.amount_minor - l.postage_minor end as fee_base_minor,
       case when l.fee_minor is null and l.kind <> 'fee'
            then width_bucket(coalesce(e.starts_on, l.occurred_on), $11::date[]) end as fee_period,
       case when w.is_worked_out
            then l.amount_minor - l.tip_minor
                 - case when not l.is_matched then 0
                        when ($10::bool[])[w.period + 1] then coalesce(x.pieces_minor, 0)
                        else coalesce(x.margin_minor, 0) end end as taxable_minor,
       case when w.is_worked_out then w.period end as tax_period,
       count(*)::int as lines, sum(l.amount_minor)::bigint as amount_minor,
       coalesce(sum(l.fee_minor) filter (where l.kind <> 'fee'), 0)::bigint as fee_minor,
       coalesce(sum(l.tax_minor) filter (where l.kind <> 'fee' and coalesce(a.is_income, true)),
                0)::bigint as tax_minor,
       sum(l.postage_minor)::bigint as postage_minor,
       sum(l.postage_cost_minor)::bigint as postage_cost_minor,
       coalesce(sum(l.amount_minor) filter (where l.is_open), 0)::bigint as open_minor
  from line l
  join channel c on c.shop_id = $1 and c.id = l.channel_id
  left join event e on e.shop_id = $1 and e.id = l.event_id
  left join aside a on a.transaction_id = l.id
  left join exempt x on x.transaction_id = l.id
 cross join lateral (
    select p.period, $7 and l.tax_minor is null and l.kind <> 'fee'
                     and coalesce(a.is_income, true)
                     and {_IS_WORKED_OUT.format(period="p.period")} as is_worked_out
      from (select {_PERIOD.format(day="l.occurred_on")} as period) p) w
 group by 1, 2, 3, 4, 5, 6, 7, 8, 9
"""  # noqa: S608 - both parts are constants
_GOODS: Final = f"""
select extract(month from t.occurred_on)::int as month, t.channel_id, t.event_id,
       sum(sl.quantity)::int as pieces, coalesce(sum(sl.cost_minor), 0)::bigint as cost_minor,
       coalesce(sum(sl.quantity) filter (where sl.cost_minor is null), 0)::int as without_cost
  from transaction t
  join sale s on s.shop_id = t.shop_id and s.transaction_id = t.id and s.state = 'done'
  join sale_line sl on sl.shop_id = s.shop_id and sl.sale_id = s.id and sl.state = 'sold'
 where {_YEAR} and t.match_state = 'matched' and sl.item_id is not null
 group by 1, 2, 3
"""  # noqa: S608
_TAXED_PIECES: Final = f"""
select extract(month from t.occurred_on)::int as month, t.channel_id, t.event_id, sl.price_minor,
       p.period as tax_period, count(*)::int as lines
  from transaction t
  join sale s on s.shop_id = t.shop_id and s.transaction_id = t.id and s.state = 'done'
  join sale_line sl on sl.shop_id = s.shop_id and sl.sale_id = s.id
  join item i on i.shop_id = sl.shop_id and i.id = sl.item_id and not i.margin_scheme
  join channel c on c.shop_id = t.shop_id and c.id = t.channel_id
  left join event e on e.shop_id = t.shop_id and e.id = t.event_id
  {_TOLD.format(is_wanted="$7")}
 cross join lateral (select {_PERIOD.format(day="t.occurred_on")} as period) p
 where {_YEAR} and t.match_state = 'matched' and coalesce(t.tax_minor, told.tax_minor) is null
   and t.kind in ('payment', 'sale') and t.amount_minor >= 0
   and ($10::bool[])[p.period + 1] and {_IS_WORKED_OUT.format(period="p.period")}
 group by 1, 2, 3, 4, 5
"""  # noqa: S608
_MISSING: Final = """
with counted as (
  select r.event_id, e.channel_id, e.starts_on
    from event e join rail r on r.shop_id = e.shop_id and r.event_id = e.id
   where e.shop_id = $1 and e.starts_on <= $2
   group by r.event_id, e.channel_id, e.starts_on
  having count(*) = count(r.counted_home)),
sold as (
  select sl.item_id, s.event_id, t.event_id as paid_at, s.sold_on, sl.quantity
    from sale s
    join sale_line sl on sl.shop_id = s.shop_id and sl.sale_id = s.id and sl.state = 'sold'
    left join transaction t on t.shop_id = s.shop_id and t.id = s.transaction_id
   where s.shop_id = $1 and s.state = 'done'),
missing as (
  select r.item_id, c.event_id, c.channel_id, c.starts_on, greatest(0,
         min(r.quantity)
         - least(min(r.quantity), min(r.counted_home) + coalesce(sum(sold.quantity) filter (
             where sold.event_id is distinct from c.event_id and sold.sold_on >= c.starts_on), 0))
         - coalesce(sum(sold.quantity) filter (where sold.paid_at = c.event_id), 0)) as pieces
    from counted c
    join rail r on r.shop_id = $1 and r.event_id = c.event_id and r.counted_home < r.quantity
    left join sold on sold.item_id = r.item_id
   group by r.item_id, c.event_id, c.channel_id, c.starts_on)
select c.event_id, c.channel_id, c.starts_on as day, i.category, i.cost_minor,
       coalesce(sum(m.pieces), 0)::int as pieces,
       coalesce(sum(least(m.pieces, i.quantity - i.sold)), 0)::int as still_away
  from counted c
  left join missing m on m.event_id = c.event_id and m.pieces > 0
  left join item i on i.shop_id = $1 and i.id = m.item_id
 group by c.event_id, c.channel_id, c.starts_on, i.category, i.cost_minor
"""
_STOCK: Final = """
with kept as (select item_id from batch where shop_id = $1 group by item_id),
came as (
  select item_id, sum(quantity) as pieces, sum(cost_minor) as minor from batch
   where shop_id = $1 and (acquired_on is null or acquired_on <= $2) group by item_id),
went as (
  select sl.item_id, sum(sl.quantity) as pieces, sum(sl.cost_minor) as minor
    from kept
    join sale_line sl on sl.shop_id = $1 and sl.item_id = kept.item_id and sl.state = 'sold'
    join sale s on s.shop_id = $1 and s.id = sl.sale_id and s.state = 'done' and s.sold_on <= $2
   group by sl.item_id)
select i.category, i.cost_minor, null::bigint as worth_minor,
       sum(i.quantity - i.sold + coalesce(later.pieces, 0))::int as pieces
  from item i
  left join (
    select sl.item_id, sum(sl.quantity) as pieces
      from sale s
      join sale_line sl on sl.shop_id = s.shop_id and sl.sale_id = s.id and sl.state = 'sold'
     where s.shop_id = $1 and s.state = 'done' and s.sold_on > $2 group by sl.item_id) later
    on later.item_id = i.id
 where i.shop_id = $1 and (i.acquired_on is null or i.acquired_on <= $2)
   and i.id not in (select item_id from kept)
 group by i.category, i.cost_minor
 union all
select i.category, i.cost_minor, sum(c.minor - coalesce(w.minor, 0))::bigint,
       sum(c.pieces - coalesce(w.pieces, 0))::int
  from came c
  join item i on i.shop_id = $1 and i.id = c.item_id
  left join went w on w.item_id = c.item_id
 where c.pieces > coalesce(w.pieces, 0)
 group by i.category, i.cost_minor
"""
_BOXES: Final = """
select e.id as event_id, e.starts_on, e.channel_id, d.day, d.float_minor, d.counted_cash_minor,
       d.taken_out_minor, d.every_cash_sale_noted,
       coalesce(sum(t.amount_minor) filter (
         where t.kind in ('payment', 'sale') and t.amount_minor >= 0), 0)::bigint as noted_minor,
       (coalesce(sum(t.amount_minor) filter (
         where t.kind in ('refund', 'adjustment')
            or t.kind in ('payment', 'sale') and t.amount_minor < 0), 0)
        - coalesce(sum(t.refunded_minor), 0))::bigint as refunded_minor
  from event e
  join event_day d on d.shop_id = e.shop_id and d.event_id = e.id
  left join transaction t on t.shop_id = e.shop_id and t.event_id = e.id and t.occurred_on = d.day
       and t.method = 'cash' and t.currency = $4 and t.kind <> 'payout'
 where e.shop_id = $1 and d.day between $2 and $3 and d.counted_cash_minor is not null
   and d.float_minor is not null
 group by e.id, e.starts_on, e.channel_id, d.day, d.float_minor, d.counted_cash_minor,
          d.taken_out_minor, d.every_cash_sale_noted
 order by d.day, e.id
"""
_COSTS: Final = """
select day, channel_id, event_id, kind,
       sum(amount_minor - case when ($5::bool[])[width_bucket(coalesce(starts_on, day), $4::date[])
                                                + 1] then tax_minor else 0 end)::bigint
         as amount_minor from (
  select coalesce(c.spent_on, e.starts_on, c.created_at::date) as day, e.starts_on, e.channel_id,
         c.event_id, c.kind, c.amount_minor, coalesce(c.tax_minor, 0) as tax_minor
    from cost c left join event e on e.shop_id = c.shop_id and e.id = c.event_id
   where c.shop_id = $1 and c.split_by is null
  union all
  select coalesce(c.spent_on, e.starts_on), e.starts_on, e.channel_id, p.event_id, c.kind,
         p.amount_minor, coalesce(p.tax_minor, 0)
    from cost_part p
    join cost c on c.shop_id = p.shop_id and c.id = p.cost_id
    join event e on e.shop_id = p.shop_id and e.id = p.event_id
   where p.shop_id = $1
  union all
  select d.day, e.starts_on, e.channel_id, e.id, 'pitch_fee', d.pitch_fee_minor, 0
    from event_day d join event e on e.shop_id = d.shop_id and e.id = d.event_id
   where d.shop_id = $1 and d.pitch_fee_minor <> 0 and d.day between $2 and $3
  union all
  select e.starts_on, e.starts_on, e.channel_id, e.id, 'pitch_fee', e.pitch_fee_minor, 0
    from event e
   where e.shop_id = $1 and e.pitch_fee_minor <> 0 and e.starts_on between $2 and $3) spent
 where day between $2 and $3
 group by day, channel_id, event_id, kind
"""
_NAMES: Final = """
select id, name, null::date as starts_on from channel where shop_id = $1
 union all
select id, name, starts_on from event where shop_id = $1
 order by starts_on, id
"""


class YearStore:
    """One shop's rows of a stretch of days, read inside one transaction."""

    def __init__(self, con: Connection, shop_id: UUID, first: dt.date, last: dt.date) -> None:
        self._con = con
        self._shop_id = shop_id
        self._days = (shop_id, first, last)
        # No zone is further than a day from UTC, so the moment narrows the search to an index.
        self._moments = (_moment(first, -2), _moment(last, 3))

    async def prepare(self) -> None:
        """Let the database group in memory, and plan for this shop, until the transaction ends.

        A plan made once for every shop looks each sale up by itself, five times as slow.
        """
        await self._con.execute(
            "set local work_mem = '64MB'; set local plan_cache_mode = force_custom_plan"
        )

    async def lines(
        self,
        currency: str,
        fee_changes: Sequence[dt.date],
        terms: Sequence[TaxTerms],
    ) -> list[Row]:
        """Read takings, refunds and fees in groups of which every line is alike.

        Args:
            currency: Of the shop; other money is left out.
            fee_changes: Rising days on which some fee schedule begins. `fee_period` counts those
                up to the day that decides: the event's first, else the payment's own.
            terms: The shop's tax terms. Where no export tells the tax, lines are grouped by the
                taxable amount and by `tax_period`, the place of its terms; where tax is rounded
                line by line, that amount leaves out all pieces, not only those under a margin
                scheme: `taxed_pieces` has them.
        """
        asked = (*self._days, currency, *self._moments)
        return await self._con.fetch(_LINES, *asked, *_told(terms), fee_changes)

    async def taxed_pieces(self, currency: str, terms: Sequence[TaxTerms]) -> list[Row]:
        """Read the prices of pieces whose tax is worked out for each by itself, in groups."""
        asked = (*self._days, currency, *self._moments)
        return await self._con.fetch(_TAXED_PIECES, *asked, *_told(terms))

    async def goods(self, currency: str) -> list[Row]:
        """Read pieces and cost of what matched payments were for, per month, channel, event."""
        return await self._con.fetch(_GOODS, *self._days, currency, *self._moments)

    async def missing(self, until: dt.date) -> list[Row]:
        """Read what wholly counted events that began until a day miss and nobody paid for.

        Per event, category and cost of one; an event that misses nothing has a row too.
        `still_away` are those that were sold nowhere since.
        """
        # Every piece taken is joined with its sales; the planner guesses a twelfth of them and
        # would look each one up, three times as slow.
        await self._con.execute("set local enable_nestloop = off")
        found = await self._con.fetch(_MISSING, self._shop_id, until)
        await self._con.execute("set local enable_nestloop = on")
        return found

    async def boxes(self, currency: str) -> list[Row]:
        """Read the counted cash boxes with the cash noted and given back (minus)."""
        return await self._con.fetch(_BOXES, *self._days, currency)

    async def costs(self, terms: Sequence[TaxTerms]) -> list[Row]:
        """Read what was spent, pitch fees included, per day, event and kind.

        The tax within is taken off where the terms of the event's first day, else of its own day,
        reclaim it.
        """
        reclaims = [one.reclaims_tax for one in terms]
        return await self._con.fetch(_COSTS, *self._days, _changes(terms), reclaims)

    async def names(self) -> list[Row]:
        """Read the names of channels and events, events with the day they start."""
        return await self._con.fetch(_NAMES, self._shop_id)

    async def stock(self, on: dt.date) -> list[Row]:
        """Read the pieces not sold by the end of a day, per category and cost of one.

        Pieces held in batches have rows of their own, with `worth_minor`: what they cost together.
        """
        return await self._con.fetch(_STOCK, self._shop_id, on)


def _changes(terms: Sequence[TaxTerms]) -> list[dt.date]:
    return [one.from_on for one in terms if one.from_on is not None]


def _told(terms: Sequence[TaxTerms]) -> tuple[bool, list[dt.date], list[str], list[bool]]:
    """Whether tax is dealt with at all, when that changes, and for each place how."""
    modes = [one.settings.mode for one in terms]
    per_line = [one.settings.round_per == "line" for one in terms]
    return any(mode != "none" for mode in modes), _changes(terms), list(modes), per_line


def _moment(day: dt.date, days_more: int) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(), dt.UTC) + dt.timedelta(days=days_more)
