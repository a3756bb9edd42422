"""Store what the matching engine answered: matches, proposals, sales, conflicts and counts."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from typing import Any, Final
from uuid import UUID

import msgspec

from stallkeep.domain.matching import Finding, LineAnswer, Reconciliation, Report
from stallkeep.store import matches
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.store.shops import Shop
from stallkeep.work.gather_evidence import Gathered
from stallkeep.work.plan_answer import Plan, Planner
from stallkeep.work.show_contradictions import show_contradictions

_SECOND_CLAIM: Final = """
insert into conflict (shop_id, id, kind, item_id, transaction_id, event_id, detail)
select $1, u.id, 'second-claim', u.item_id, u.transaction_id, $2, u.detail
  from unnest($3::uuid[], $4::uuid[], $5::uuid[], $6::text[])
       as u (id, item_id, transaction_id, detail)
 where not exists (select from conflict c where c.shop_id = $1 and c.item_id = u.item_id
                      and c.transaction_id = u.transaction_id and c.state = 'open')
"""
# The piece became free by what was said of the payment that had it, and the claim is met.
_CLAIM_MET: Final = """
update conflict c set state = 'settled', settled_at = now(), settled_by = 'a later match'
 where c.shop_id = $1 and c.state = 'open' and c.kind = 'second-claim'
   and c.transaction_id = any($2)
   and exists (
     select from match m
       join match_item mi on mi.shop_id = m.shop_id and mi.match_id = m.id
        and mi.item_id = c.item_id
      where m.shop_id = $1 and m.transaction_id = c.transaction_id and m.state = 'matched')
"""

PERHAPS_GONE: Final = 0.3
"""From here on a piece is told to be gone though no payment was found for it."""
NOISE: Final = 0.05

_LOCK_ITEMS: Final = """
select id, quantity - sold as left_over from item
 where shop_id = $1 and id = any($2) order by id for update
"""

# A line of a tally beside a sale entered at the stall, by the same method, day and amount, at the
# same time where the tally has one: perhaps the same money twice. A person says which it is.
_TWICE_ENTERED: Final = """
insert into conflict (shop_id, id, kind, transaction_id, event_id, detail)
select t.shop_id, gen_random_uuid(), 'perhaps-entered-twice', t.id, t.event_id,
       'A sale of this amount was entered at the stall about then, and this line is in an import. '
       'If it is the same money, set the line aside as no income; it counts twice until then.'
  from transaction t
 where t.shop_id = $1 and t.event_id = $2 and t.import_id is not null and t.kind = 'payment'
   and t.match_state <> 'set_aside' and t.method in ('cash', 'transfer', 'other')
   and exists (
     select from transaction own
      where own.shop_id = t.shop_id and own.event_id = t.event_id and own.import_id is null
        and own.kind = 'payment' and own.method = t.method and own.occurred_on = t.occurred_on
        and own.amount_minor = t.amount_minor and own.currency = t.currency
        and (t.occurred_at is null or own.occurred_at is null
             or own.occurred_at between t.occurred_at - interval '30 minutes'
                                    and t.occurred_at + interval '30 minutes'))
   and not exists (
     select from conflict c
      where c.shop_id = t.shop_id and c.transaction_id = t.id and c.kind = 'perhaps-entered-twice')
"""


class Reconciled(msgspec.Struct, frozen=True, kw_only=True):
    """One run, as it was stored.

    Attributes:
        id: Of the run.
        counts: Lines by state.
        report: The engine's findings, what is probably gone, and how the answer was reached.
    """

    id: UUID
    event_id: UUID | None
    channel_id: UUID | None
    from_on: dt.date | None
    to_on: dt.date | None
    counts: dict[str, int]
    report: dict[str, Any]


class AnswerStore:
    """Stores one answer of the engine about an event, whose earlier one was released before."""

    def __init__(
        self,
        con: Connection,
        shop: Shop,
        gathered: Gathered,
        answer: Reconciliation,
        event_id: UUID,
    ) -> None:
        self._con = con
        self._shop = shop
        self._gathered = gathered
        self._answer = answer
        self._run = NewRun(
            id=new_id(),
            event_id=event_id,
            engine_version=answer.engine_version,
            report=report_of([answer], [*gathered.findings, *answer.findings]),
        )

    async def store(self) -> Reconciled:
        """Write the run, then a match or proposals for every line, then its counts."""
        con, shop_id = self._con, self._shop.shop_id
        await write_run(con, shop_id, self._run)
        left = await lock_items(con, shop_id, wanted(self._answer.answers))
        rung = [row["id"] for row in self._gathered.paired.values()]
        rung_up = await matches.pieces_of_sales(con, shop_id, rung)
        planner = Planner(self._gathered, self._run.id, left, self._shop.currency, rung_up)
        plan = planner.plan(self._answer.answers)
        await matches.add_matches(con, shop_id, [p for own in plan.matches.values() for p in own])
        await matches.set_states(con, shop_id, plan.said)
        event_id = self._run.event_id
        await write_conflicts(con, shop_id, event_id, plan, self._answer.findings)
        await con.execute(_TWICE_ENTERED, shop_id, event_id)
        return await write_counts(con, shop_id, self._run, plan.counts)


class NewRun(msgspec.Struct, frozen=True, kw_only=True):
    """A run before its counts are known."""

    id: UUID
    event_id: UUID | None = None
    channel_id: UUID | None = None
    period: tuple[dt.date | None, dt.date | None] = (None, None)
    engine_version: int
    report: dict[str, Any] = {}


async def write_run(con: Connection, shop_id: UUID, run: NewRun) -> None:
    """Write a run down, so that matches can name it."""
    await con.execute(
        """insert into reconciliation (shop_id, id, event_id, channel_id, from_on, to_on,
                                       engine, counts, report)
           values ($1, $2, $3, $4, $5, $6, $7, '{}', $8)""",
        shop_id,
        run.id,
        run.event_id,
        run.channel_id,
        *run.period,
        f"engine {run.engine_version}",
        run.report,
    )


async def write_counts(
    con: Connection, shop_id: UUID, run: NewRun, counts: Counter[str]
) -> Reconciled:
    """Write what a run has found, and give it as it was stored."""
    await con.execute(
        "update reconciliation set counts = $3, report = $4 where shop_id = $1 and id = $2",
        shop_id,
        run.id,
        dict(counts),
        run.report,
    )
    return Reconciled(
        id=run.id,
        event_id=run.event_id,
        channel_id=run.channel_id,
        from_on=run.period[0],
        to_on=run.period[1],
        counts=dict(counts),
        report=run.report,
    )


def wanted(answers: Iterable[LineAnswer]) -> set[UUID]:
    """Pieces that answers sell."""
    return {UUID(item) for line in answers for item in line.item_ids}


async def lock_items(con: Connection, shop_id: UUID, item_ids: Collection[UUID]) -> dict[UUID, int]:
    """Hold pieces, so that no stall sale takes one meanwhile; gives how many are left of each."""
    rows = await con.fetch(_LOCK_ITEMS, shop_id, sorted(item_ids))
    return {row["id"]: row["left_over"] for row in rows}


async def write_conflicts(
    con: Connection, shop_id: UUID, event_id: UUID | None, plan: Plan, findings: Iterable[Finding]
) -> None:
    """Show a person the claims that cannot be met, and the findings that are to be settled.

    Claims that were in vain before and are met now are settled.
    """
    told = "A payment points at a piece that is sold already. {}"
    claims = [
        (new_id(), item_id, UUID(line.transaction_id), told.format(line.reason))
        for line, item_id in plan.conflicts
    ]
    if claims:
        await con.execute(_SECOND_CLAIM, shop_id, event_id, *map(list, zip(*claims, strict=True)))
    if met := [line for line, state, _ in plan.said if state == "matched"]:
        await con.execute(_CLAIM_MET, shop_id, met)
    await show_contradictions(con, shop_id, event_id, findings)


def report_of(answers: Sequence[Reconciliation], findings: Iterable[Finding]) -> dict[str, Any]:
    """Report what answers found and how they were reached; parts of one run are joined."""
    reports = [answer.report for answer in answers]
    joined = msgspec.structs.replace(
        reports[0] if reports else Report(),
        components=sum(report.components for report in reports),
        exact=sum(report.exact for report in reports),
    )
    return {
        "findings": msgspec.to_builtins(list(findings)),
        "report": msgspec.to_builtins(joined),
        "double_sales": [
            {"item_id": piece.item_id, "probability": piece.double_sale}
            for answer in answers
            for piece in answer.pieces
            if piece.double_sale >= NOISE
        ],
        "gone": [
            {"item_id": piece.item_id, "probability": piece.gone}
            for answer in answers
            for piece in answer.pieces
            if piece.gone >= PERHAPS_GONE and piece.gone > min(piece.sold, 1.0) + NOISE
        ],
    }
