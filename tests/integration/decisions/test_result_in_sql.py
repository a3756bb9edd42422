"""The result of an event against the same figures worked out in SQL straight from the tables.

Every payment of these events is settled and every cost known, so that each figure is a fact. The
statement shares nothing with the service's own: it adds up tables where the service posts
entries. The tax is 20 per cent within the price, so a sixth of what was paid; the card fee 2.5
per cent of a payment; halves go away from zero, as PostgreSQL rounds numeric.
"""

from __future__ import annotations

import pytest
from tests.database import Clone
from tests.random_events import make_random_event

from stallkeep.store.engine import read_scope
from stallkeep.work.event_result import event_result
from stallkeep.work.year_totals import year_report

BY_HAND = """
with money as (
  select t.id, t.occurred_on, t.method, t.kind, t.amount_minor as amount, t.fee_minor as fee,
         t.tax_minor as tax, coalesce(t.tip_minor, 0) as tip,
         exists (select from ruling r where r.transaction_id = t.id and not r.is_income) as aside
    from transaction t where t.shop_id = $1
  union all
  select t.id, t.occurred_on, t.method, 'refund', -t.refunded_minor, null, null, 0, false
    from transaction t where t.shop_id = $1 and t.refunded_minor is not null),
boxes as (
  select d.day, d.every_cash_sale_noted as noted, d.counted_cash_minor - d.float_minor
         + d.taken_out_minor - coalesce((
             select sum(m.amount) from money m
              where m.method = 'cash' and m.occurred_on = d.day), 0) as beyond
    from event_day d where d.shop_id = $1 and d.counted_cash_minor is not null),
cash as (
  select coalesce(sum(beyond) filter (where not noted and beyond > 0), 0) as unnoted,
         coalesce(sum(beyond) filter (where noted or beyond <= 0), 0) as over_short,
         coalesce(sum(round(beyond / 6.0)) filter (where not noted and beyond > 0), 0) as taxed
    from boxes),
taxes as (
  select coalesce(sum(coalesce(m.tax, round((m.amount - m.tip - p.apart) / 6.0) + p.own)), 0)
           as minor
    from money m, shop, lateral (
      select coalesce(sum(l.price_minor) filter (
               where i.margin_scheme or shop.tax_round_per = 'line'), 0) as apart,
             coalesce(sum(round(l.price_minor / 6.0)) filter (
               where not i.margin_scheme and shop.tax_round_per = 'line'), 0) as own
        from sale s join sale_line l on l.sale_id = s.id join item i on i.id = l.item_id
       where s.transaction_id = m.id and m.kind = 'payment') p
   where shop.tax_mode <> 'none' and not m.aside),
told as (
  select coalesce(sum(m.tax), 0) as minor from money m, shop
   where shop.tax_mode = 'none' and not m.aside),
cost_lines as (
  select c.id, c.event_id, 1 as sign, coalesce((
           select round(sum((p ->> 'distance_tenths')::numeric
                            * (p ->> 'rate_thousandths')::numeric) / 10000)
             from jsonb_array_elements(c.trip -> 'parts') p),
         c.amount_minor) as amount
    from cost c where c.shop_id = $1
  union all
  select c.id, c.event_id, -1, c.tax_minor from cost c, shop
   where shop.reclaims_tax and c.tax_minor is not null),
shares as (
  select p.event_id, p.cost_id, c.sign, p.position, c.amount * p.share as exact,
         sum(p.share) over (partition by p.cost_id, c.sign) as shares, c.amount
    from cost_part p join cost_lines c on c.id = p.cost_id),
parts as (
  select event_id, sign, floor(exact / shares) + case when row_number() over (
             partition by cost_id, sign order by exact - floor(exact / shares) * shares desc,
                          position)
           <= amount - sum(floor(exact / shares)) over (partition by cost_id, sign)
         then 1 else 0 end as amount
    from shares),
counted as (
  select count(*) > 0 and count(*) = count(counted_home) as all_of_it from rail where shop_id = $1)
select (select coalesce(sum(amount), 0) from money where kind = 'payment') + cash.unnoted
         as takings,
       (select coalesce(-sum(amount), 0) from money where kind = 'refund') as refunds,
       (select coalesce(sum(amount), 0) from money where aside) as not_income,
       taxes.minor + told.minor
         + case when (select tax_mode from shop) = 'none' then 0 else cash.taxed end as tax,
       (select coalesce(sum(case when fee is not null then fee
                                 when method = 'card' and amount > 0 then round(amount * 0.025)
                                 else 0 end), 0) from money) as fees,
       (select coalesce(sum(l.cost_minor), 0) from sale_line l
         where l.shop_id = $1 and l.state = 'sold')
         + case when counted.all_of_it then (
             select coalesce(sum(i.cost_minor), 0) from rail r join item i on i.id = r.item_id
              where r.counted_home = 0
                and not exists (select from sale_line l where l.item_id = r.item_id
                                   and l.state = 'sold'))
           else 0 end as goods,
       (select coalesce(sum(sign * amount), 0) from cost_lines where event_id = $2)
         + (select coalesce(sum(sign * amount), 0) from parts where event_id = $2)
         + (select coalesce(sum(pitch_fee_minor), 0) from event_day)
         + (select coalesce(sum(pitch_fee_minor), 0) from event) as costs,
       cash.over_short, counted.all_of_it
  from cash, taxes, told, counted
"""
SEEDS = range(40)


@pytest.mark.parametrize("batch", range(4))
async def test_the_result_is_what_sql_says_straight_from_the_tables(
    database: Clone, batch: int
) -> None:
    for seed in SEEDS[batch::4]:
        made = await make_random_event(database.pool, seed)
        async with read_scope(database.pool, made.shop.shop_id) as con:
            result = await event_result(con, made.shop, made.event_id)
            row = await con.fetchrow(BY_HAND, made.shop.shop_id, made.event_id)
        assert row is not None
        whole = result.whole
        # Cash that nobody noted has no piece: its cost is an estimate unless the rail was counted.
        estimated = whole.cost_of_goods.expected_minor - int(row["goods"])
        unnoted = sum(box.unnoted_minor for box in result.cash_boxes)
        assert 0 <= estimated <= (0 if row["all_of_it"] else unnoted), f"seed {seed}"
        found = {
            "takings": whole.takings_minor,
            "refunds": whole.refunds_minor,
            "not_income": whole.not_income_minor,
            "tax": whole.tax_minor,
            "fees": whole.fees_minor,
            "goods": whole.cost_of_goods.expected_minor - estimated,
            "costs": whole.costs_minor,
            "over_short": whole.over_short_minor,
        }
        wanted = {name: int(row[name]) for name in found}
        assert found == wanted, f"seed {seed}"
        net = wanted["takings"] - wanted["refunds"] - wanted["not_income"] - wanted["tax"]
        net -= wanted["goods"] + wanted["fees"] + wanted["costs"] - wanted["over_short"]
        assert whole.net.expected_minor == net - estimated
        assert result.adds_up


@pytest.mark.parametrize("batch", range(4))
async def test_the_year_has_the_events_own_figures(database: Clone, batch: int) -> None:
    for seed in SEEDS[batch::4]:
        made = await make_random_event(database.pool, seed)
        async with read_scope(database.pool, made.shop.shop_id) as con:
            whole = (await event_result(con, made.shop, made.event_id)).whole
            row = await con.fetchrow(BY_HAND, made.shop.shop_id, made.event_id)
            year = await year_report(con, made.shop, 2026, made.shop.created_at.date())
        assert row is not None
        lines = {one.name: one for one in year.totals.events}
        line = lines.get("Quay fair", year.totals.whole)
        assert line.takings_minor == whole.takings_minor, f"seed {seed}"
        assert line.refunds_minor == -whole.refunds_minor
        assert line.not_income_minor == -whole.not_income_minor
        assert line.tax_minor == -whole.tax_minor
        assert line.fees_minor == -whole.fees_minor
        assert line.costs_minor == -whole.costs_minor
        assert line.over_short_minor == whole.over_short_minor
        assert line.cost_of_goods_minor == -int(row["goods"])  # facts only, no estimates
        assert year.totals.adds_up
