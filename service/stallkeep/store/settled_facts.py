"""The settled payments and the rail of one event, added up by the database.

One statement answers with one JSON document in the shape of `domain.settled.Settled`. Of a line it
says what `domain.settled_lines` says of it; a test holds the two equal.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final
from uuid import UUID

import msgspec

from stallkeep.domain.settled import Settled
from stallkeep.domain.tax import TaxSettings
from stallkeep.store.connection import Connection
from stallkeep.store.told_tax import told_tax

# Rows of other tables are read by lists of their ids and joined by hash (`_PLANNED_AS`): what is
# read is the event's alone however big the shop is, and a database that has not counted its rows
# yet (a new one) does not read them again for each other.
_SETTLED: Final = f"""
with paid as materialized (
  select t.id, t.occurred_on as day, coalesce(t.method, 'other') as method,
         t.match_state as state, coalesce(a.is_income, true) as is_income, t.amount_minor,
         coalesce(t.tip_minor, 0) as tip_minor, {told_tax("$8")} as tax_minor, t.fee_minor
    from transaction t
    left join (select distinct on (transaction_id) transaction_id, is_income from ruling
                where shop_id = $1 and kind = 'set_aside' and withdrawn_at is null
                order by transaction_id, said_at desc) a on a.transaction_id = t.id
   where t.shop_id = $1 and t.event_id = $2 and t.currency = $3 and t.kind in ('payment', 'sale')
     and t.amount_minor >= 0 and t.match_state in ('matched', 'set_aside')),
group_of_payments as materialized (
  select day, method, state, is_income, fee_minor is not null as is_told,
         case when fee_minor is null and method = any($4::text[]) then amount_minor end
           as each_minor,
         count(*) as payments, sum(amount_minor) as amount_minor, sum(tip_minor) as tip_minor,
         coalesce(sum(tax_minor), 0) as tax_minor, sum(fee_minor) as fee_minor
    from paid group by 1, 2, 3, 4, 5, 6),
sale_of as materialized (
  select id, transaction_id from sale
   where shop_id = $1 and state = 'done'
     and transaction_id = any(array(select id from paid where state = 'matched'))),
line as materialized (
  select p.id, p.day, l.item_id, l.quantity, l.price_minor, l.cost_minor, l.state = 'sold' as kept
    from sale_line l
    join sale_of s on s.id = l.sale_id
    join paid p on p.id = s.transaction_id
   where l.shop_id = $1 and l.item_id is not null
     and l.sale_id = any(array(select id from sale_of))),
sold as (
  select item_id, sum(quantity) as pieces, max(price_minor / quantity) as each_minor
    from line where kept group by item_id),
listed as (
  select item_id, quantity, price_minor, counted_home from rail
   where shop_id = $1 and event_id = $2),
taken_or_sold as materialized (
  select coalesce(r.item_id, s.item_id) as item_id, r.item_id is not null as is_listed,
         r.quantity, r.counted_home, r.price_minor, s.pieces, s.each_minor
    from listed r full join sold s on s.item_id = r.item_id),
line_elsewhere as materialized (
  select item_id, sale_id, quantity from sale_line
   where shop_id = $1 and state = 'sold'
     and item_id = any(array(
       select item_id from taken_or_sold
        where is_listed and quantity - counted_home > coalesce(pieces, 0)))),
elsewhere as (
  select l.item_id, sum(l.quantity) as pieces
    from line_elsewhere l
    join sale o on o.id = l.sale_id
   where o.shop_id = $1 and o.id = any(array(select sale_id from line_elsewhere))
     and o.state = 'done' and o.event_id is distinct from $2
     and o.sold_on >= (select starts_on from event where shop_id = $1 and id = $2)
   group by l.item_id),
piece as materialized (
  select i.tag_code, i.category, i.margin_scheme, i.cost_minor, t.quantity, t.counted_home,
         t.is_listed,
         case when t.is_listed then coalesce(t.price_minor, i.price_minor) else t.each_minor end
           as price_minor,
         coalesce(t.quantity, t.pieces) as taken, coalesce(t.pieces, 0) as matched,
         case when t.is_listed and (select bool_and(counted_home is not null) from listed)
              then greatest(least(t.quantity - t.counted_home, coalesce(t.pieces, 0)),
                            t.quantity - t.counted_home - coalesce(w.pieces, 0), 0) end as gone,
         coalesce(w.pieces, 0) as sold_elsewhere, t.item_id
    from taken_or_sold t
    join item i on i.id = t.item_id
    left join elsewhere w on w.item_id = t.item_id
   where i.shop_id = $1 and i.id = any(array(select item_id from taken_or_sold))),
group_of_pieces as materialized (
  select category, width_bucket(price_minor, $7::bigint[]) as band, is_listed,
         sum(taken) as taken, sum(greatest(matched, gone)) as sold,
         coalesce(sum(taken) filter (where counted_home is null), 0) as uncounted,
         coalesce(sum(taken) filter (where price_minor > 0), 0) as priced,
         coalesce(sum(taken * price_minor), 0) as priced_minor,
         count(*) filter (where has_share) as costed,
         sum(price_minor) filter (where has_share) as costed_price_minor,
         sum(cost_minor) filter (where has_share) as costed_minor,
         min((cost_minor * 2000000 + price_minor) / (2 * price_minor)) filter (where has_share)
           as low_ppm,
         max((cost_minor * 2000000 + price_minor) / (2 * price_minor)) filter (where has_share)
           as high_ppm
    from (select *, price_minor > 0 and cost_minor is not null as has_share from piece) p
   group by 1, 2, 3),
taxed as (
  select p.day, p.amount_minor - p.tip_minor - coalesce(sum(l.price_minor), 0) as amount_minor
    from paid p
    left join (select l.id, l.price_minor from line l
                 join item i on i.shop_id = $1 and i.id = l.item_id
                where i.margin_scheme or $6) l on l.id = p.id
   where $5 and p.tax_minor is null and p.is_income
   group by p.id, p.day, p.amount_minor, p.tip_minor
  union all
  select l.day, l.price_minor
    from line l
    join paid p on p.id = l.id and p.tax_minor is null and p.is_income
    join item i on i.shop_id = $1 and i.id = l.item_id
   where $5 and $6 and not i.margin_scheme)
select json_build_object(
  'paid', (select coalesce(json_agg(g), '[]') from (
      select day, method, state, is_income, sum(payments) as payments,
             sum(amount_minor) as amount_minor, sum(tip_minor) as tip_minor,
             sum(tax_minor) as tax_minor, sum(fee_minor) as fee_minor
        from group_of_payments group by day, method, state, is_income, is_told) g),
  'fees', (select coalesce(json_agg(g), '[]') from (
      select day, method, each_minor as amount_minor, sum(payments) as times
        from group_of_payments where each_minor is not null group by day, method, each_minor) g),
  'taxes', (select coalesce(json_agg(g), '[]') from (
      select day, amount_minor, count(*) as times from taxed
       where amount_minor <> 0 group by day, amount_minor) g),
  'sold', (select coalesce(json_agg(g), '[]') from (
      select day, count(*) as lines, sum(quantity) as pieces, sum(price_minor) as price_minor,
             sum(cost_minor) as cost_minor
        from line where kept
       group by day, case when cost_minor is null then price_minor end) g),
  'margin_scheme', (select to_json(g) from (
      select sum(l.quantity) as pieces, sum(l.price_minor) as sales_minor,
             coalesce(sum(l.cost_minor), 0) as cost_minor,
             coalesce(sum(l.price_minor - l.cost_minor), 0) as margin_minor,
             coalesce(sum(l.quantity) filter (where l.cost_minor is null), 0) as without_cost
        from line l join piece p on p.item_id = l.item_id and p.margin_scheme
       where l.kept having count(*) > 0) g),
  'costs_sold', (select to_json(g) from (
      select count(*) as pieces, sum(price_minor) as price_minor, sum(cost_minor) as cost_minor,
             min((cost_minor * 2000000 + price_minor) / (2 * price_minor)) as low_ppm,
             max((cost_minor * 2000000 + price_minor) / (2 * price_minor)) as high_ppm
        from line where kept and price_minor > 0 and cost_minor is not null
      having count(*) > 0) g),
  'costs_taken', (select to_json(g) from (
      select sum(costed) as pieces, sum(costed_price_minor) as price_minor,
             sum(costed_minor) as cost_minor, min(low_ppm) as low_ppm, max(high_ppm) as high_ppm
        from group_of_pieces where is_listed having sum(costed) > 0) g),
  'rail', (select to_json(g) from (
      select coalesce(sum(taken), 0) as taken, coalesce(sum(uncounted), 0) as uncounted,
             coalesce(sum(priced), 0) as priced, coalesce(sum(priced_minor), 0) as priced_minor
        from group_of_pieces where is_listed) g),
  'pieces', (select coalesce(json_agg(g), '[]') from (
      select category, band, is_listed, taken, sold from group_of_pieces) g),
  'gone', (select coalesce(json_agg(g order by item_id), '[]') from (
      select tag_code as item_id, gone - matched as quantity, price_minor, cost_minor,
             category, counted_home, sold_elsewhere
        from piece where gone > matched) g),
  'home_yet_paid', (select coalesce(json_agg(tag_code order by tag_code), '[]')
                      from piece where matched > gone))
"""  # noqa: S608 - made of constants
# Planning so long a statement anew each time takes a tenth of its time.
_PLANNED_AS: Final = (
    "set local plan_cache_mode = force_generic_plan; set local enable_nestloop = off"
)
_PLANNED_AS_EVER: Final = "set local plan_cache_mode = auto; set local enable_nestloop = on"


async def settled(
    con: Connection,
    shop_id: UUID,
    event_id: UUID,
    *,
    currency: str,
    tax: TaxSettings,
    asks_sales: bool,
    fee_methods: Sequence[str],
    band_starts_minor: Sequence[int],
) -> Settled:
    """Add up the settled payments, their pieces, and the rail of an event.

    Args:
        con: In the shop's scope.
        shop_id: The shop.
        event_id: The event.
        currency: Payments in others are left out.
        tax: How the shop deals with tax: which amounts it is worked out from.
        asks_sales: Whether a sale rung up may tell the tax that its payment's export does not.
        fee_methods: Methods whose fee is worked out where no export tells it.
        band_starts_minor: Rising starts of the price bands after the first.
    """
    works_out_tax, per_piece = tax.mode != "none", tax.round_per == "line"
    await con.execute(_PLANNED_AS)
    found: Any = await con.fetchval(
        _SETTLED,
        shop_id,
        event_id,
        currency,
        list(fee_methods),
        works_out_tax,
        per_piece,
        list(band_starts_minor),
        asks_sales,
    )
    await con.execute(_PLANNED_AS_EVER)
    return msgspec.convert(found, Settled)
