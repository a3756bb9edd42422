"""Time results over HTTP inside one process: `python -m tests.bench.results.service_results`.

Each route stands beside one SQL statement, written by hand, that adds up the same money in the
same transaction scope; their quotient is printed. Goals: the result of an event with 2,000 sales
under 50 ms (99 of 100), a forecast of 20,000 draws under 300 ms, the year of a shop with 100,000
sales under 1 s, and quotients of at most 1.5.
"""

from __future__ import annotations

import datetime as dt
import gc
import sys
from collections.abc import Awaitable, Callable
from statistics import median
from time import perf_counter
from typing import Any
from uuid import UUID

import asyncpg
import uvloop
from tests.bench.results.made_shop import MadeShop, make_coming_event, make_shop
from tests.database import Clone, clone, make_template
from tests.run import Run, run_server

from stallkeep.api.app import create_app
from stallkeep.cli.local_client import LocalClient
from stallkeep.config import Settings
from stallkeep.domain.money import to_text
from stallkeep.log import set_up_log
from stallkeep.store.engine import read_scope

SETTINGS = "set local work_mem = '64MB'; set local plan_cache_mode = force_custom_plan"
"""As the service reads a year, so that both are planned alike."""

_FEE = """sum(case when t.fee_minor is not null then t.fee_minor
                   when t.method = 'card' or t.event_id is null
                   then round(t.amount_minor * 0.025) else 0 end)"""
EVENT_BY_HAND = f"""
with line as materialized (
  select t.occurred_on, t.method, l.item_id, t.amount_minor, t.event_id, t.fee_minor,
         l.cost_minor, l.quantity
    from transaction t
    join sale s on s.shop_id = t.shop_id and s.transaction_id = t.id and s.state = 'done'
    join sale_line l on l.shop_id = s.shop_id and l.sale_id = s.id
   where t.shop_id = $1 and t.event_id = $2),
taken as (
  select i.category, width_bucket(coalesce(r.price_minor, i.price_minor),
                                  '{{1000,2500,5000,10000}}'::bigint[]) as band,
         r.quantity, greatest(r.quantity - r.counted_home, l.quantity) as sold,
         greatest(r.quantity - r.counted_home - coalesce(l.quantity, 0), 0) * i.cost_minor as gone
    from rail r
    join item i on i.shop_id = r.shop_id and i.id = r.item_id
    left join line l on l.item_id = r.item_id
   where r.shop_id = $1 and r.event_id = $2)
select occurred_on, method, null as category, null as band, sum(amount_minor) as takings,
       {_FEE.replace("t.", "")} as fees, sum(cost_minor) as goods, sum(quantity) as pieces,
       (select sum(amount_minor) from cost where shop_id = $1 and event_id = $2) as costs,
       (select sum(pitch_fee_minor) from event_day where shop_id = $1 and event_id = $2) as pitch
  from line group by grouping sets ((occurred_on), (method), ())
union all
select null, null, category, band, null, null, sum(gone), sum(quantity), sum(sold), null
  from taken group by grouping sets ((category), (band), ())
"""  # noqa: S608 - a constant
YEAR_BY_HAND = f"""
with money as (
  select extract(month from t.occurred_on)::int as month, t.channel_id, t.event_id,
         sum(t.amount_minor) as takings, {_FEE} as fees, sum(l.cost_minor) as goods,
         count(*) as pieces, 0 as costs
    from transaction t
    join sale s on s.shop_id = t.shop_id and s.transaction_id = t.id and s.state = 'done'
    join sale_line l on l.shop_id = s.shop_id and l.sale_id = s.id and l.state = 'sold'
   where t.shop_id = $1 and t.occurred_on between $2 and $3 and t.kind = 'payment'
   group by 1, 2, 3),
spent as (
  select extract(month from c.spent_on)::int, e.channel_id, e.id, 0, 0, 0, 0, sum(c.amount_minor)
    from cost c join event e on e.shop_id = c.shop_id and e.id = c.event_id
   where c.shop_id = $1 and c.spent_on between $2 and $3 group by 1, 2, 3
  union all
  select extract(month from d.day)::int, e.channel_id, e.id, 0, 0, 0, 0, sum(d.pitch_fee_minor)
    from event_day d join event e on e.shop_id = d.shop_id and e.id = d.event_id
   where d.shop_id = $1 and d.day between $2 and $3 group by 1, 2, 3),
gone as (
  select sum(greatest(0, r.quantity - r.counted_home - l.quantity) * i.cost_minor) as minor
    from rail r join item i on i.shop_id = r.shop_id and i.id = r.item_id
    left join sale_line l on l.shop_id = r.shop_id and l.item_id = r.item_id and l.state = 'sold'
   where r.shop_id = $1),
stock as (
  select sum(greatest(0, i.quantity - coalesce(l.quantity, 0)) * i.cost_minor) as minor
    from item i left join (
      select l.item_id, sum(l.quantity) as quantity from sale_line l
        join sale s on s.shop_id = l.shop_id and s.id = l.sale_id and s.state = 'done'
       where l.shop_id = $1 and l.state = 'sold' and s.sold_on <= $3 group by l.item_id) l
      on l.item_id = i.id
   where i.shop_id = $1)
select month, channel_id, event_id, sum(takings), sum(fees), sum(goods), sum(pieces), sum(costs),
       (select minor from gone), (select minor from stock)
  from (select * from money union all select * from spent) both_kinds
 group by grouping sets ((month), (channel_id), (event_id), ())
"""  # noqa: S608


async def main() -> None:
    """Make the shops, time everything, print."""
    set_up_log("json", "error")
    run = Run.current()
    held = run.begin()
    try:
        with run_server(run) as url:
            await make_template(url, run.template)
            async with clone(url, run.template) as database:
                await _event(database)
            async with clone(url, run.template) as database:
                await _forecast(database)
            async with clone(url, run.template) as database:
                await _year(database)
    finally:
        run.end()
        held.close()


async def _event(database: Clone) -> None:
    made = await make_shop(database.pool, events=3, at_each=2000, online=0)
    await _analyse(database)
    client = LocalClient(create_app(Settings(), database.pool), made.token)
    path = f"/v1/events/{made.event_id}"
    by_hand = _statement(database, made, EVENT_BY_HAND, made.event_id)
    answer = _get(client, f"{path}/result")
    await _check(answer, by_hand)
    _freeze()
    await _compare("result of an event with 2,000 sales", 200, answer, by_hand)
    explained = _get(client, f"{path}/result", "explain=true")
    await _timed("the same with every line explained", 20, explained)
    await _timed("its comparison with 2 others of 2,000", 10, _get(client, f"{path}/comparison"))
    body = {"prices": [{"percent": "-10"}]}

    async def ask() -> None:
        await client.post(f"{path}/what-ifs", body)

    await _timed("a what-if question about it", 20, ask)


async def _forecast(database: Clone) -> None:
    made = await make_shop(database.pool, events=20, at_each=40, online=0)
    soon = dt.datetime.now(dt.UTC).date() + dt.timedelta(days=9)
    event_id = await make_coming_event(database.pool, made.shop_id, soon, rail=150)
    await _analyse(database)
    client = LocalClient(create_app(Settings(), database.pool), made.token)
    body = {"event_id": str(event_id), "draws": 20_000}

    async def ask() -> None:
        await client.post("/v1/forecasts", body)

    await _timed("forecast of 20,000 draws from 20 events", 40, ask)


async def _year(database: Clone) -> None:
    made = await make_shop(database.pool, events=50, at_each=1000, online=50_000)
    await _analyse(database)
    client = LocalClient(create_app(Settings(), database.pool), made.token)
    days = (dt.date(2026, 1, 1), dt.date(2026, 12, 31))
    by_hand = _statement(database, made, YEAR_BY_HAND, *days)
    year = _get(client, "/v1/years/2026", "stock_on=2026-12-31")
    await _compare("year of a shop with 100,000 sales", 10, year, by_hand)
    result = _get(client, f"/v1/events/{made.event_id}/result")
    by_hand = _statement(database, made, EVENT_BY_HAND, made.event_id)
    await _check(result, by_hand)
    await _compare("result of an event of 1,000 in that shop", 30, result, by_hand)


def _get(client: LocalClient, path: str, query: str = "") -> Callable[[], Awaitable[Any]]:
    given = dict(pair.split("=") for pair in query.split("&") if pair)

    async def get() -> object:
        return await client.get(path, **given)

    return get


def _statement(
    database: Clone, made: MadeShop, query: str, *values: object
) -> Callable[[], Awaitable[Any]]:
    shop_id: UUID = made.shop_id

    async def run() -> object:
        async with read_scope(database.pool, shop_id) as con:
            await con.execute(SETTINGS)
            return await con.fetch(query, shop_id, *values)

    return run


async def _check(
    answer: Callable[[], Awaitable[Any]], by_hand: Callable[[], Awaitable[Any]]
) -> None:
    """Refuse to time two ways that do not say the same."""
    whole, rows = (await answer())["whole"], await by_hand()
    total = max((row for row in rows if row["takings"]), key=lambda row: row["takings"])
    said = [whole["takings"], whole["fees"], whole["cost_of_goods"]["expected"]]
    summed = [to_text(int(total[name]), "EUR") for name in ("takings", "fees", "goods")]
    if said != summed or whole["pieces"]["known"] != total["pieces"]:
        raise AssertionError(f"{said} is not {summed}")


def _freeze() -> None:
    """Leave alone what is loaded, as the service does when it starts."""
    gc.collect()
    gc.freeze()


async def _analyse(database: Clone) -> None:
    """Do what the server does by itself a minute after so many rows came in."""
    con = await asyncpg.connect(database.admin_url)
    try:
        await con.execute("vacuum analyze")
    finally:
        await con.close()


async def _timed(name: str, times: int, do: Callable[[], Awaitable[object]]) -> None:
    _print(name, (await _measure(times, do))[0])


async def _compare(
    name: str,
    times: int,
    ours: Callable[[], Awaitable[object]],
    theirs: Callable[[], Awaitable[object]],
) -> None:
    """Time two ways in turns, so that whatever else the machine does meets both alike."""
    found, beside = await _measure(times, ours, theirs)
    _print(name, found)
    _print("the same sums in one statement", beside)
    sys.stdout.write(f"{'':45} quotient {median(found) / median(beside):.2f}\n")


async def _measure(times: int, *ways: Callable[[], Awaitable[object]]) -> list[list[float]]:
    """Time each way so many times, in turns, in milliseconds; ten rounds before warm things up."""
    found: list[list[float]] = [[] for _ in ways]
    for n in range(-10, times):
        for way, times_of_way in zip(ways, found, strict=True):
            start = perf_counter()
            await way()
            if n >= 0:
                times_of_way.append((perf_counter() - start) * 1000)
    return found


def _print(name: str, found: list[float]) -> None:
    late = sorted(found)[min(len(found) - 1, len(found) * 99 // 100)]
    sys.stdout.write(f"{name:45} p50 {median(found):8.1f} ms   p99 {late:8.1f} ms\n")
    sys.stdout.flush()


if __name__ == "__main__":
    uvloop.run(main())  # as the service runs
