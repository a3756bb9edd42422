"""Answer the sales of a channel that belong together, then its refunds; store what differs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Sequence
from functools import partial
from uuid import UUID

import msgspec

from stallkeep.domain.matching import Evidence, Finding, MoneyLine, RailPiece, Reconciliation
from stallkeep.domain.matching.channel_run import answer_given_back, answer_sales
from stallkeep.domain.matching.channel_stock import Stock
from stallkeep.domain.matching.competing import Claim, Competing
from stallkeep.store import evidence as store
from stallkeep.store import matches
from stallkeep.store.connection import Row
from stallkeep.store.match_news import writing
from stallkeep.store.stored_matches import (
    Stored,
    changes,
    freed_by,
    pieces_matched,
    stored_matches,
)
from stallkeep.work.channel_stock import PART, Place
from stallkeep.work.evidence_lines import lines_told
from stallkeep.work.examine_lines import Examined, examine
from stallkeep.work.gather_evidence import Gathered, gather_lines
from stallkeep.work.in_turns import in_turns
from stallkeep.work.partial_stock import pieces_and_left, stock_of
from stallkeep.work.plan_answer import Plan, Planner
from stallkeep.work.refund_groups import RefundGroup, packed, refund_groups
from stallkeep.work.store_answer import write_conflicts


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """Lines to be answered together, with all that was read for it.

    Attributes:
        gathered: The lines as evidence, and what storing needs beside it.
        answer: Works the answer out.
        stored: What stands of earlier runs.
        left: Item → pieces in stock, those that earlier answers to these lines took included.
    """

    gathered: Gathered
    answer: Callable[[], Reconciliation]
    stored: Stored
    left: dict[UUID, int]


class Answered(msgspec.Struct, frozen=True, kw_only=True):
    """An answer, what is to stand of it, and what that changes: matches that go and that come."""

    answer: Reconciliation
    plan: Plan
    dropped: Sequence[UUID]
    missing: Sequence[matches.Bulk]


class ChannelAnswers:
    """Answers what a run is concerned with.

    Attributes:
        counts: Lines by state.
        reports: Of each part: how it was reached, and pieces that were perhaps sold twice.
        findings: Of all parts.
    """

    def __init__(self, place: Place, run_id: UUID) -> None:
        self._place = place
        self._con = place.con
        self._shop_id = place.shop.shop_id
        self._run_id = run_id
        self.counts: Counter[str] = Counter()
        self.reports: list[Reconciliation] = []
        self.findings: list[Finding] = []

    async def answer_sales(self, sales: Competing, stock: Stock | None) -> None:
        """Answer payments and sales; *stock* is all of the channel's, where it is at hand."""
        read = partial(self._read_sales, stock)
        await in_turns(sales.packs(PART), read, self._work_out, self._write)

    async def answer_refunds(self, refunds: Collection[UUID]) -> None:
        """Answer refunds, once the sales they may give back are answered and stored."""
        groups = await refund_groups(self._place, refunds) if refunds else []
        await in_turns(packed(groups), self._read_refunds, self._work_out, self._write)

    async def _read_sales(self, stock: Stock | None, pack: Sequence[Claim]) -> Asked:
        place, ids = self._place, [claim.line for claim in pack]
        claimed = {item for claim in pack for item in claim.pieces}
        pieces, left = await pieces_and_left(place, claimed)
        rows = await store.lines_of_channel(self._con, self._shop_id, place.channel_id, ids)
        sold = [row for row in rows if row["kind"] != "refund"]
        gathered = await gather_lines(self._con, place.shop, pieces, sold, {"scope": "channel"})
        answer = partial(
            answer_sales,
            gathered.evidence,
            stock or await stock_of(place, pieces),
            _blocks(pack, pieces),
            place.shop.match_threshold,
        )
        return await self._asked(gathered, answer, ids, left)

    async def _read_refunds(self, group: RefundGroup) -> Asked:
        place = self._place
        seen = await examine(place, group.refunds)
        where = (self._shop_id, place.channel_id)
        rows = await store.lines_of_channel(self._con, *where, [*seen.refunds, *seen.foreign])
        gathered = await gather_lines(self._con, place.shop, (), rows, {"scope": "channel"})
        paid = await store.lines_of_channel(self._con, *where, group.payments)
        sold = await pieces_matched(self._con, self._shop_id, group.payments)
        lines = self._given_back(seen, gathered, paid)
        evidence = Evidence(scope="channel", lines=lines, rulings=gathered.evidence.rulings)
        for key in gathered.ruled:
            self.counts[gathered.lines[key]["match_state"]] += 1
        answer = partial(answer_given_back, evidence, sold)
        return await self._asked(gathered, answer, group.refunds, {})

    def _given_back(
        self, seen: Examined, gathered: Gathered, paid: Sequence[Row]
    ) -> tuple[MoneyLine, ...]:
        """Payments, and refunds, each with the payment it names or was said to give back.

        Refunds of which a person said anything else are left out.
        """
        named = {str(key): str(row["id"]) for key, row in seen.given_back.items()}
        payments = {str(r["id"]): r for r in paid if r["currency"] == self._place.shop.currency}
        refunds = (
            msgspec.structs.replace(line, related_id=named.get(line.transaction_id))
            for line in gathered.evidence.lines
            if line.transaction_id in named or line.transaction_id not in gathered.ruled
        )
        return (*lines_told(payments, self._place.shop), *refunds)

    async def _asked(
        self,
        gathered: Gathered,
        answer: Callable[[], Reconciliation],
        ids: Collection[UUID],
        left: dict[UUID, int],
    ) -> Asked:
        stored = await stored_matches(self._con, self._shop_id, ids)
        if stored:
            for item, pieces in (await freed_by(self._con, self._shop_id, ids)).items():
                left[item] = left.get(item, 0) + pieces
        return Asked(gathered=gathered, answer=answer, stored=stored, left=left)

    def _work_out(self, asked: Asked) -> Answered:
        answer = asked.answer()
        currency = self._place.shop.currency
        plan = Planner(asked.gathered, self._run_id, asked.left, currency).plan(answer.answers)
        found = changes(asked.stored, plan.matches)
        missing = matches.lay_out(found.missing)
        return Answered(answer=answer, plan=plan, dropped=found.dropped, missing=missing)

    async def _write(self, answered: Answered) -> None:
        """Write what differs from what stands."""
        con, shop_id, plan = self._con, self._shop_id, answered.plan
        async with writing(con):
            if answered.dropped:
                await matches.release(con, shop_id, answered.dropped, also_decided=False)
            await matches.add_laid_out(con, shop_id, answered.missing)
            await matches.set_states(con, shop_id, plan.said)
            await write_conflicts(con, shop_id, None, plan, answered.answer.findings)
        self._note(answered)

    def _note(self, answered: Answered) -> None:
        answer = answered.answer
        self.counts.update(answered.plan.counts)
        self.findings += answer.findings
        double = tuple(piece for piece in answer.pieces if piece.double_sale)
        self.reports.append(Reconciliation(answers=(), pieces=double, report=answer.report))


def _blocks(pack: Sequence[Claim], pieces: Sequence[RailPiece]) -> dict[str, list[str]]:
    """Pieces by the line they are compared with; one may have gone since it was found."""
    there = {piece.item_id for piece in pieces}
    return {
        str(claim.line): [item for item in map(str, claim.pieces) if item in there]
        for claim in pack
        if claim.is_open
    }
