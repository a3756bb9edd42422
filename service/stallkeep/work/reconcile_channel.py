"""Work out what the sales of a channel that belong to no event were for.

A run answers what is concerned by what is new, and stores only what differs: in the end there
stands what a run over everything would have said.
"""

from __future__ import annotations

import asyncio
import datetime as dt
from collections import Counter
from collections.abc import Collection, Sequence
from typing import Final
from uuid import UUID

import msgspec

from stallkeep.domain.errors import NotFoundError
from stallkeep.domain.matching import Evidence, Finding, MoneyLine, RailPiece, Reconciliation
from stallkeep.domain.matching.channel_run import answer_given_back, answer_sales
from stallkeep.domain.matching.channel_stock import Stock
from stallkeep.domain.matching.competing import Claim
from stallkeep.domain.matching.reconciliation import ENGINE_VERSION
from stallkeep.store import evidence as store
from stallkeep.store import matches
from stallkeep.store.connection import Connection, Pool, Row
from stallkeep.store.engine import scope
from stallkeep.store.held_items import hold_items, left_of
from stallkeep.store.ids import new_id
from stallkeep.store.match_news import News, begin_run, end_run, strike_news, take_news, writing
from stallkeep.store.shops import Shop
from stallkeep.store.stored_matches import drop_other_matches, freed_by, pieces_matched
from stallkeep.store.turns import matching_turn
from stallkeep.work.channel_stock import PART, Place, is_measured, measure_all, renew
from stallkeep.work.evidence_lines import lines_told
from stallkeep.work.examine_lines import Examined, examine
from stallkeep.work.find_concerned import Concerned
from stallkeep.work.gather_evidence import Gathered, gather_lines
from stallkeep.work.partial_stock import pieces_of, stock_of
from stallkeep.work.plan_answer import Planner
from stallkeep.work.refund_groups import RefundGroup, packed, refund_groups
from stallkeep.work.store_answer import (
    NewRun,
    Reconciled,
    report_of,
    wanted,
    write_conflicts,
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
        self._counts: Counter[str] = Counter()
        self._reports: list[Reconciliation] = []
        self._findings: list[Finding] = []
        self._stock: Stock | None = None

    async def answer(self, news: News | None, ids: Collection[UUID] = ()) -> Reconciled:
        """Answer what is concerned by what is new, and these lines; None for everything."""
        await write_run(self._con, self._shop_id, self._run)
        concerned = await self._concerned(news, ids)
        await hold_items(self._con, self._shop_id, concerned.sales.pieces)
        for pack in concerned.sales.packs(PART):
            await self._answer_sales(pack)
        groups = await refund_groups(self.place, concerned.refunds) if concerned.refunds else []
        for group in packed(groups):
            await self._answer_refunds(group)
        await end_run(self._con)
        report = report_of(self._reports, self._findings)
        for name, value in report.items():
            self._run.report[name] = value
        return await write_counts(self._con, self._shop_id, self._run, self._counts)

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

    async def _answer_sales(self, pack: Sequence[Claim]) -> None:
        ids = [claim.line for claim in pack]
        pieces = await pieces_of(self.place, {item for claim in pack for item in claim.pieces})
        stock = self._stock or await stock_of(self.place, pieces)
        gathered = await self._gathered(ids, pieces)
        known = {piece.item_id for piece in pieces}
        blocks = {
            str(claim.line): [item for item in map(str, claim.pieces) if item in known]
            for claim in pack
            if claim.is_open
        }
        threshold = self.place.shop.match_threshold
        answer = await asyncio.to_thread(answer_sales, gathered.evidence, stock, blocks, threshold)
        await self._store(gathered, answer, ids)

    async def _gathered(self, ids: Sequence[UUID], pieces: tuple[RailPiece, ...]) -> Gathered:
        rows = await store.lines_of_channel(self._con, self._shop_id, self.place.channel_id, ids)
        sold = [row for row in rows if row["kind"] != "refund"]
        facts = {"scope": "channel"}
        return await gather_lines(self._con, self.place.shop, pieces, sold, facts)

    async def _answer_refunds(self, group: RefundGroup) -> None:
        seen = await examine(self.place, group.refunds)
        rows = [*seen.refunds.values(), *seen.foreign.values()]
        gathered = await gather_lines(self._con, self.place.shop, (), rows, {"scope": "channel"})
        paid = await store.lines_of_channel(
            self._con, self._shop_id, self.place.channel_id, group.payments
        )
        sold = await pieces_matched(self._con, self._shop_id, group.payments)
        evidence = Evidence(scope="channel", lines=self._given_back(seen, gathered, paid))
        answer = await asyncio.to_thread(answer_given_back, evidence, sold)
        for key in gathered.ruled:
            self._counts[gathered.lines[key]["match_state"]] += 1
        await self._store(gathered, answer, group.refunds)

    def _given_back(
        self, seen: Examined, gathered: Gathered, paid: Sequence[Row]
    ) -> tuple[MoneyLine, ...]:
        """Payments, and the refunds that nobody ruled on, each with the payment it names."""
        named = {str(key): str(row["id"]) for key, row in seen.given_back.items()}
        payments = {str(r["id"]): r for r in paid if r["currency"] == self.place.shop.currency}
        refunds = (
            msgspec.structs.replace(line, related_id=named.get(line.transaction_id))
            for line in gathered.evidence.lines
            if line.transaction_id not in gathered.ruled
        )
        return (*lines_told(payments, self.place.shop), *refunds)

    async def _store(
        self, gathered: Gathered, answer: Reconciliation, ids: Collection[UUID]
    ) -> None:
        """Write what differs from what stands."""
        con, shop_id = self._con, self._shop_id
        freed = await freed_by(con, shop_id, ids)
        left = await left_of(con, shop_id, wanted(answer.answers))
        left = {item: number + freed.get(item, 0) for item, number in left.items()}
        plan = Planner(gathered, self._run.id, left, self.place.shop.currency).plan(answer.answers)
        async with writing(con):
            missing = await drop_other_matches(con, shop_id, ids, plan.matches)
            await matches.add_matches(con, shop_id, missing)
            await matches.set_states(con, shop_id, plan.said)
            await write_conflicts(con, shop_id, None, plan, answer.findings)
        self._counts.update(plan.counts)
        self._findings += answer.findings
        double = tuple(piece for piece in answer.pieces if piece.double_sale)
        self._reports.append(Reconciliation(answers=(), pieces=double, report=answer.report))
