"""Store what the matching engine answered: matches, proposals, sales, conflicts and counts."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from typing import Any, Final
from uuid import UUID

import msgspec

from stallkeep.domain.matching.types import Candidate, LineAnswer, Reconciliation
from stallkeep.store import matches
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.store.shops import Shop
from stallkeep.work.gather_evidence import PAIRED_PROBABILITY, Gathered

SHOWN: Final = 5
"""Candidates kept for a line that is not settled."""


_SECOND_CLAIM: Final = """
insert into conflict (shop_id, id, kind, item_id, transaction_id, event_id, detail)
select $1, $2, 'second-claim', $3, $4, $5, $6
 where not exists (select from conflict where shop_id = $1 and item_id = $3
                      and transaction_id = $4 and state = 'open')
"""


_SOLD_TWICE: Final = """
insert into conflict (shop_id, id, kind, item_id, event_id, detail)
select $1, $2, 'probably-sold-twice', $3, $4, $5
 where not exists (select from conflict where shop_id = $1 and item_id = $3
                      and kind = 'probably-sold-twice')
"""
LIKELY: Final = 0.5

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
        report: The engine's findings, habit note and how the answer was reached.
    """

    id: UUID
    event_id: UUID | None
    channel_id: UUID | None
    from_on: dt.date | None
    to_on: dt.date | None
    counts: dict[str, int]
    report: dict[str, Any]


class AnswerStore:
    """Stores one answer of the engine."""

    def __init__(
        self,
        con: Connection,
        shop: Shop,
        gathered: Gathered,
        answer: Reconciliation,
        *,
        event_id: UUID | None = None,
        channel_id: UUID | None = None,
        period: tuple[dt.date | None, dt.date | None] = (None, None),
    ) -> None:
        self._con = con
        self._shop_id = shop.shop_id
        self._shop = shop
        self._gathered = gathered
        self._answer = answer
        self._event_id = event_id
        self._channel_id = channel_id
        self._period = period
        self._id = new_id()
        self._left: dict[UUID, int] = {}
        self._ring_ups = {
            tuple(sorted(str(item) for item in row["item_ids"] or ())): row["id"]
            for row in gathered.ring_ups
            if row["transaction_id"] is None
        }
        self._conflicts: list[tuple[LineAnswer, UUID]] = []
        self._said: list[tuple[UUID, str, str | None]] = []

    async def store(self) -> Reconciled:
        """Write the run, then a match or proposals for every line, then its counts."""
        await self._write_run({})
        await self._lock_items()
        counts: Counter[str] = Counter()
        for line in self._answer.answers:
            if line.transaction_id in self._gathered.entered:
                counts["matched"] += 1
                continue
            counts[await self._line(line)] += 1
        for row in self._gathered.foreign:
            counts["unmatched"] += 1
            reason = (
                f"It is in {row['currency']}; the shop keeps its books in {self._shop.currency}"
            )
            self._said.append((row["id"], "unmatched", reason))
        await matches.set_states(self._con, self._shop_id, self._said)
        await self._write_conflicts()
        await self._write_double_sales()
        if self._event_id is not None:
            await self._con.execute(_TWICE_ENTERED, self._shop_id, self._event_id)
        await self._write_counts(counts)
        return Reconciled(
            id=self._id,
            event_id=self._event_id,
            channel_id=self._channel_id,
            from_on=self._period[0],
            to_on=self._period[1],
            counts=dict(counts),
            report=self._report(),
        )

    async def _lock_items(self) -> None:
        """Hold the pieces the answer sells, so that no stall sale takes one meanwhile."""
        wanted = sorted({UUID(item) for line in self._answer.answers for item in line.item_ids})
        rows = await self._con.fetch(
            """select id, quantity - sold as left_over from item
                where shop_id = $1 and id = any($2) order by id for update""",
            self._shop_id,
            wanted,
        )
        self._left = {row["id"]: row["left_over"] for row in rows}

    async def _line(self, line: LineAnswer) -> str:
        transaction_id = UUID(line.transaction_id)
        if line.transaction_id in self._gathered.ruled:
            return await self._ruled(line)
        if line.transaction_id in self._gathered.paired:
            return await self._paired(line, transaction_id)
        state: str = "unmatched" if line.state == "conflict" else line.state
        if state == "matched":
            state = await self._matched(line, transaction_id)
        if state == "proposed":
            await self._propose(line, transaction_id)
        self._said.append((transaction_id, state, self._reason(line, state)))
        return state

    async def _ruled(self, line: LineAnswer) -> str:
        """A person's word: its match was written when it was said; only count it."""
        state = await self._con.fetchval(
            "select match_state from transaction where shop_id = $1 and id = $2",
            self._shop_id,
            UUID(line.transaction_id),
        )
        return str(state)

    async def _paired(self, line: LineAnswer, transaction_id: UUID) -> str:
        """A payment that only one ring-up fits, and no other: link the two."""
        ring_up = self._gathered.paired[line.transaction_id]
        reason = "rung up at the stall for just this much, within minutes of it"
        new = matches.NewMatch(
            transaction_id=transaction_id,
            state="matched",
            explanation="pieces" if ring_up["item_ids"] else "untagged",
            probability=PAIRED_PROBABILITY,
            reason=reason,
            reconciliation_id=self._id,
            sale_id=ring_up["id"],
            pieces=await matches.pieces_of_sale(self._con, self._shop_id, ring_up["id"]),
        )
        await matches.add_match(self._con, self._shop_id, new)
        await matches.set_state(self._con, self._shop_id, transaction_id, "matched", reason)
        return "matched"

    async def _matched(self, line: LineAnswer, transaction_id: UUID) -> str:
        ring_up = self._ring_ups.pop(tuple(sorted(line.item_ids)), None)
        pieces = _pieces(line.item_ids, line.prices_minor)
        row = self._gathered.lines[line.transaction_id]
        sells = row["kind"] in ("payment", "sale")
        if sells and ring_up is None and not self._take(pieces):
            self._conflicts += [(line, p.item_id) for p in pieces]
            return "proposed"
        best = line.candidates[0] if line.candidates else None
        new = matches.NewMatch(
            transaction_id=transaction_id,
            state="matched",
            explanation="pieces" if best is None else best.explanation,
            probability=line.probability,
            reason=line.reason,
            evidence=_evidence(best),
            reconciliation_id=self._id,
            related_transaction_id=UUID(line.related_id) if line.related_id else None,
            sale_id=ring_up,
            pieces=pieces,
        )
        sale = matches.sale_of(row) if sells else None
        await matches.add_match(self._con, self._shop_id, new, sale)
        return "matched"

    def _take(self, pieces: Sequence[matches.Piece]) -> bool:
        if any(self._left.get(p.item_id, 0) < p.quantity for p in pieces):
            return False
        for p in pieces:
            self._left[p.item_id] -= p.quantity
        return True

    async def _propose(self, line: LineAnswer, transaction_id: UUID) -> None:
        group = None if line.group is None else msgspec.to_builtins(line.group)
        for rank, candidate in enumerate(line.candidates[:SHOWN], 1):
            new = matches.NewMatch(
                transaction_id=transaction_id,
                state="proposed",
                explanation=candidate.explanation,
                rank=rank,
                probability=candidate.probability,
                reason=_said(candidate) or line.reason,
                evidence=_evidence(candidate),
                piece_group=group if rank == 1 else None,
                reconciliation_id=self._id,
                related_transaction_id=(
                    UUID(candidate.related_id) if candidate.related_id else None
                ),
                pieces=_pieces(candidate.item_ids, candidate.prices_minor),
            )
            await matches.add_match(self._con, self._shop_id, new)

    def _reason(self, line: LineAnswer, state: str) -> str:
        if state == "proposed" and line.state == "matched":
            return "The piece it was for is sold to somebody else already: please look"
        if line.group is not None and state == "proposed":
            return line.group.sentence
        return line.reason

    async def _write_conflicts(self) -> None:
        for line, item_id in self._conflicts:
            await self._con.execute(
                _SECOND_CLAIM,
                self._shop_id,
                new_id(),
                item_id,
                UUID(line.transaction_id),
                self._event_id,
                f"A payment points at a piece that is sold already. {line.reason}",
            )

    async def _write_double_sales(self) -> None:
        """A piece that was probably sold twice is shown to a person, once."""
        for finding in self._answer.findings:
            if finding.code != "probably-sold-twice" or finding.probability < LIKELY:
                continue
            for item in finding.item_ids:
                values = (self._shop_id, new_id(), UUID(item), self._event_id, finding.sentence)
                await self._con.execute(_SOLD_TWICE, *values)

    async def _write_run(self, counts: dict[str, int]) -> None:
        await self._con.execute(
            """insert into reconciliation (shop_id, id, event_id, channel_id, from_on, to_on,
                                           engine, counts, report)
               values ($1, $2, $3, $4, $5, $6, $7, $8, $9)""",
            self._shop_id,
            self._id,
            self._event_id,
            self._channel_id,
            *self._period,
            f"engine {self._answer.engine_version}",
            counts,
            self._report(),
        )

    async def _write_counts(self, counts: Counter[str]) -> None:
        await self._con.execute(
            "update reconciliation set counts = $3 where shop_id = $1 and id = $2",
            self._shop_id,
            self._id,
            dict(counts),
        )

    def _report(self) -> dict[str, Any]:
        answer = self._answer
        return {
            "findings": msgspec.to_builtins(answer.findings),
            "habit_note": msgspec.to_builtins(answer.habit_note),
            "report": msgspec.to_builtins(answer.report),
            "double_sales": [
                {"item_id": piece.item_id, "probability": piece.double_sale}
                for piece in answer.pieces
                if piece.double_sale >= 0.05  # noqa: PLR2004 - less is noise to a seller
            ],
        }


def _pieces(item_ids: Sequence[str], prices: Sequence[int]) -> list[matches.Piece]:
    together: dict[str, tuple[int, int]] = {}
    for item_id, price in zip(item_ids, prices, strict=True):
        quantity, total = together.get(item_id, (0, 0))
        together[item_id] = (quantity + 1, total + price)
    return [
        matches.Piece(UUID(item_id), total, quantity)
        for item_id, (quantity, total) in together.items()
    ]


def _evidence(candidate: Candidate | None) -> list[dict[str, Any]]:
    return [] if candidate is None else msgspec.to_builtins(list(candidate.weights))


def _said(candidate: Candidate) -> str:
    return "; ".join(weight.sentence for weight in candidate.weights if weight.sentence)
