"""Work out what the sales of a channel that belong to no event were for.

A run answers what is concerned by what is new, and stores only what differs: in the end there
stands what a run over everything would have said.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from typing import Final
from uuid import UUID

from stallkeep.domain.errors import NotFoundError
from stallkeep.domain.matching.channel_stock import Stock
from stallkeep.domain.matching.reconciliation import ENGINE_VERSION
from stallkeep.store import evidence as store
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import scope
from stallkeep.store.held_items import hold_items
from stallkeep.store.ids import new_id
from stallkeep.store.match_news import News, begin_run, end_run, strike_news, take_news
from stallkeep.store.shops import Shop
from stallkeep.store.turns import matching_turn
from stallkeep.work.answer_channel import ChannelAnswers
from stallkeep.work.channel_stock import Place, is_measured, measure_all, renew
from stallkeep.work.find_concerned import Concerned
from stallkeep.work.pace import hurrying
from stallkeep.work.store_answer import (
    NewRun,
    Reconciled,
    report_of,
    write_counts,
    write_run,
)

_CHANNEL: Final = "select true from channel where shop_id = $1 and id = $2"


async def reconcile_channel(
    pool: Pool,
    shop: Shop,
    channel_id: UUID,
    from_on: dt.date | None = None,
    to_on: dt.date | None = None,
) -> Reconciled:
    """Match the sales of a channel anew; lines that belong to an event are left out.

    Without days everything is measured and answered anew. With days, the lines of that period
    are, and all others that they compete with, and what is new besides.

    Raises:
        NotFoundError: The shop has no such channel.
    """
    async with scope(pool, shop.shop_id) as con:
        run = await _begin(con, shop, channel_id, (from_on, to_on))
        if from_on is None and to_on is None:
            return await run.answer(None)
        news = await take_news(con, shop.shop_id, channel_id)
        ids = await store.line_ids_of_channel(con, shop.shop_id, channel_id, from_on, to_on)
        return await run.answer(news, ids)


async def reconcile_news(pool: Pool, shop: Shop, channel_id: UUID) -> Reconciled | None:
    """Match what has come or changed since the channel's last run; None where nothing has.

    What stands in the end is what a run over everything would have said.

    Raises:
        NotFoundError: The shop has no such channel.
    """
    async with scope(pool, shop.shop_id) as con:
        run = await _begin(con, shop, channel_id, (None, None))
        if not await is_measured(run.place):
            return await run.answer(None)
        news = await take_news(con, shop.shop_id, channel_id)
        return await run.answer(news) if news else None


async def _begin(
    con: Connection, shop: Shop, channel_id: UUID, period: tuple[dt.date | None, dt.date | None]
) -> ChannelRun:
    await matching_turn(con, shop.shop_id)
    if not await con.fetchval(_CHANNEL, shop.shop_id, channel_id):
        raise NotFoundError("There is no such channel in this shop")
    await begin_run(con, channel_id)
    return ChannelRun(Place(con, shop, channel_id), period)


class ChannelRun:
    """One run, inside its transaction."""

    def __init__(self, place: Place, period: tuple[dt.date | None, dt.date | None]) -> None:
        self.place = place
        self._con = place.con
        self._shop_id = place.shop.shop_id
        self._run = NewRun(
            id=new_id(), channel_id=place.channel_id, period=period, engine_version=ENGINE_VERSION
        )
        self._stock: Stock | None = None

    async def answer(self, news: News | None, ids: Collection[UUID] = ()) -> Reconciled:
        """Answer what is concerned by what is new, and these lines; None for everything."""
        with hurrying():
            return await self._answer(news, ids)

    async def _answer(self, news: News | None, ids: Collection[UUID]) -> Reconciled:
        await write_run(self._con, self._shop_id, self._run)
        concerned = await self._concerned(news, ids)
        sales = concerned.sales()
        await hold_items(self._con, self._shop_id, sales.pieces)
        answers = ChannelAnswers(self.place, self._run.id)
        await answers.answer_sales(sales, self._stock)
        await answers.answer_refunds(concerned.refunds)
        await end_run(self._con)
        self._run.report.update(report_of(answers.reports, answers.findings))
        return await write_counts(self._con, self._shop_id, self._run, answers.counts)

    async def _concerned(self, news: News | None, ids: Collection[UUID]) -> Concerned:
        place = self.place
        concerned = Concerned(place)
        if news is None:
            await strike_news(self._con, self._shop_id, place.channel_id)
        elif not news.everything and await is_measured(place):
            renewed = await renew(place, news.items)
            if not renewed.outgrown:
                await concerned.add_news(news, renewed.terms)
                await concerned.add_lines(ids)
                return concerned
        self._stock = await measure_all(place)
        everything = await store.line_ids_of_channel(
            self._con, self._shop_id, place.channel_id, None, None
        )
        await concerned.add_everything(everything, self._stock)
        return concerned
