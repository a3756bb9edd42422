"""Nights of a big shop: ``python -m tests.bench.matching.channel_nights [--rows N] [--news N]``.

A channel with *rows* stored sales and as many listed items, then a first run over it, a night
with *news* new sales and new listings, and a night without anything new.
Half of the sales name their listing; of the others a tenth have an altered title, and one in
twenty is of nothing in stock (the worlds of ``channel_sales``). ``--plain`` stores payments
without any title instead. Prints seconds, what the process held above idle, and the server's
share. ``--stale`` keeps the server from counting its tables: it plans as if they were empty.
"""

# ruff: noqa: T201 - it prints

from __future__ import annotations

import argparse
import asyncio
import datetime as dt
import random
import resource
import time
from collections.abc import Iterator, Sequence
from typing import Any
from uuid import UUID, uuid4

import asyncpg
import msgspec
from tests.bench.imports.service_database import Place, benchmark_server, empty_place, server_url
from tests.bench.matching.channel_sales import a_title, altered

from stallkeep.store.ids import new_id
from stallkeep.work.reconcile_channel import reconcile_news

FIRST = dt.date(2030, 1, 1)
DAYS = 365
SLICE = 50_000


class Wares(msgspec.Struct):
    """Items by number; each is sold at most once."""

    ids: list[UUID] = []
    titles: list[str] = []
    prices: list[int] = []


async def main() -> None:
    """Measure what the command line asks for."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--rows", type=int, default=600_000)
    asked.add_argument("--news", type=int, default=6_000)
    asked.add_argument("--plain", action="store_true")
    asked.add_argument("--stale", action="store_true")
    said = asked.parse_args()
    with server_url() as url:
        async with benchmark_server(url) as server, empty_place(server) as place:
            await _nights(place, said)


async def _nights(place: Place, said: argparse.Namespace) -> None:
    rng = random.Random(1)  # noqa: S311 - chance, not secrecy
    wares = Wares()
    con = await asyncpg.connect(place.url)
    if said.stale:
        for table in (
            "transaction",
            "match",
            "match_item",
            "sale",
            "sale_line",
            "listing",
            "item",
            "match_line",
            "match_term",
            "stock_piece",
            "stock_term",
            "stock_count",
        ):
            await con.execute(f"alter table {table} set (autovacuum_enabled = off)")
    if not said.plain:
        await _list(con, place, rng, wares, said.rows)
    await _sell(con, place, rng, wares, range(said.rows), plain=said.plain)
    if not said.stale:
        await con.execute("analyze")
    await _timed(f"first run of {said.rows}", place)
    if not said.plain:
        await _list(con, place, rng, wares, said.news)
    news = range(said.rows, said.rows + said.news)
    await _sell(con, place, rng, wares, news, plain=said.plain)
    await _timed(f"night of {said.news} new on {said.rows}", place)
    await _timed("night without news", place)
    await con.close()


async def _timed(what: str, place: Place) -> None:
    before = resource.getrusage(resource.RUSAGE_SELF)
    start = time.perf_counter()
    done = await reconcile_news(place.pool, place.shop, place.channel_id)
    seconds = time.perf_counter() - start
    after = resource.getrusage(resource.RUSAGE_SELF)
    own = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    held = (after.ru_maxrss - before.ru_maxrss) / 1024
    counts = dict(sorted(done.counts.items())) if done else {}
    print(f"{what}: {seconds:.1f} s, own {own:.1f} s, {held:.0f} MB more at the peak, {counts}")


async def _list(
    con: Any,  # noqa: ANN401 - an administrator's connection
    place: Place,
    rng: random.Random,
    wares: Wares,
    number: int,
) -> None:
    """List so many new items."""
    shop_id, channel_id = place.shop.shop_id, place.channel_id
    start = len(wares.ids)
    for _ in range(number):
        wares.ids.append(new_id())
        wares.titles.append(a_title(rng))
        wares.prices.append(rng.randrange(5, 120) * 100)
    for part in _slices(range(start, start + number)):
        await con.copy_records_to_table(
            "item",
            columns=("shop_id", "id", "tag_code", "title", "price_minor"),
            records=[
                (shop_id, wares.ids[i], f"{i:06}", wares.titles[i], wares.prices[i]) for i in part
            ],
        )
        await con.copy_records_to_table(
            "listing",
            columns=(
                "shop_id",
                "id",
                "channel_id",
                "item_id",
                "reference",
                "title",
                "price_minor",
                "state",
            ),
            records=[
                (
                    shop_id,
                    new_id(),
                    channel_id,
                    wares.ids[i],
                    f"r{i}",
                    wares.titles[i],
                    wares.prices[i],
                    "live",
                )
                for i in part
            ],
        )


async def _sell(
    con: Any,  # noqa: ANN401 - likewise
    place: Place,
    rng: random.Random,
    wares: Wares,
    numbers: range,
    *,
    plain: bool,
) -> None:
    """Bring so many sales as one import that is done."""
    import_id = new_id()
    place_of = (place.shop.shop_id, import_id, place.channel_id)
    await con.execute(
        "insert into import (shop_id, id, channel_id, importer, file_name, state) "
        "values ($1, $2, $3, 'bench', 'sales.csv', 'running')",
        *place_of,
    )
    names = (
        "shop_id",
        "id",
        "channel_id",
        "import_id",
        "row_key",
        "content_key",
        "kind",
        "amount_minor",
        "currency",
        "occurred_on",
        "ordered_at",
        "external_id",
        "reference",
        "title",
        "match_state",
    )
    for part in _slices(numbers):
        await con.copy_records_to_table(
            "transaction",
            columns=names,
            records=[_a_sale(place, import_id, rng, wares, i, plain=plain) for i in part],
        )
    await con.execute(
        "update import set state = 'done' where shop_id = $1 and id = $2", *place_of[:2]
    )


def _a_sale(
    place: Place, import_id: UUID, rng: random.Random, wares: Wares, i: int, *, plain: bool
) -> tuple[object, ...]:
    day = FIRST + dt.timedelta(days=i % DAYS)
    title, price, reference = None, rng.randrange(5, 120) * 100, None
    if not plain:
        known = i % 20 != 19
        which = i % len(wares.ids)
        title = wares.titles[which] if known else a_title(rng)
        price = wares.prices[which]
        if known and i % 10 == 7:
            title = altered(rng, title)
        reference = f"r{which}" if known and i % 2 else None
    moment = dt.datetime.combine(day, dt.time(12), dt.UTC)
    head = (place.shop.shop_id, new_id(), place.channel_id, import_id, f"i:sale:o-{i}", uuid4())
    paid = ("payment" if plain else "sale", price, "EUR", day, moment, f"o-{i}")
    return (*head, *paid, reference, title, "unmatched")


def _slices(numbers: range) -> Iterator[Sequence[int]]:
    for start in range(0, len(numbers), SLICE):
        yield numbers[start : start + SLICE]


if __name__ == "__main__":
    asyncio.run(main())
