"""What is to be stored of an answer: matches, proposals, states, and claims that cannot be met."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any, Final
from uuid import UUID

import msgspec

from stallkeep.domain.matching import Candidate, LineAnswer
from stallkeep.domain.matching.money_line import paid_for_pieces
from stallkeep.domain.money import apportion
from stallkeep.store import matches
from stallkeep.work.evidence_words import PAIRED_PROBABILITY
from stallkeep.work.gather_evidence import Gathered

SHOWN: Final = 5
"""Candidates kept for a line that is not settled."""


class Plan(msgspec.Struct):
    """What is to stand in the end.

    Attributes:
        matches: Per transaction, its explanations, with what a sale made of one takes over;
            none for lines that keep what a person said or entered.
        said: Id, state and reason of each transaction that is not ruled on.
        conflicts: Lines whose pieces are sold already, with those pieces.
        counts: Lines by state.
    """

    matches: dict[UUID, list[matches.Planned]] = {}
    said: list[tuple[UUID, str, str | None]] = []
    conflicts: list[tuple[LineAnswer, UUID]] = []
    counts: Counter[str] = msgspec.field(default_factory=Counter)


class Planner:
    """Plans what to store of answers.

    Args:
        gathered: What the answers were made from.
        run_id: The run they belong to.
        left: Item → pieces in stock, before the answers take theirs.
        currency: The shop's.
        rung_up: Ring-up → its pieces, for those that alone fit a payment.
    """

    def __init__(
        self,
        gathered: Gathered,
        run_id: UUID,
        left: Mapping[UUID, int],
        currency: str,
        rung_up: Mapping[UUID, Sequence[matches.Piece]] | None = None,
    ) -> None:
        self._gathered = gathered
        self._run_id = run_id
        self._left = dict(left)
        self._currency = currency
        self._rung_up = rung_up or {}
        self._paid = {
            line.transaction_id: paid_for_pieces(line) for line in gathered.evidence.lines
        }
        self._ring_ups = {
            tuple(sorted(str(item) for item in row["item_ids"] or ())): row["id"]
            for row in gathered.ring_ups
            if row["transaction_id"] is None
        }
        self._plan = Plan()

    def plan(self, answers: Sequence[LineAnswer]) -> Plan:
        """Plan all answers, in their order: the first that needs a piece has it."""
        for line in answers:
            self._plan.counts[self._line(line, UUID(line.transaction_id))] += 1
        for row in self._gathered.foreign:
            self._plan.counts["unmatched"] += 1
            reason = f"It is in {row['currency']}; the shop keeps its books in {self._currency}"
            self._plan.said.append((row["id"], "unmatched", reason))
        return self._plan

    def _line(self, line: LineAnswer, transaction_id: UUID) -> str:
        if line.transaction_id in self._gathered.entered:
            return "matched"
        if line.transaction_id in self._gathered.ruled:
            # A person's word: its match was written when it was said.
            return str(self._gathered.lines[line.transaction_id]["match_state"])
        if line.transaction_id in self._gathered.paired:
            return self._paired(line, transaction_id)
        state: str = "unmatched" if line.state == "conflict" else line.state
        if state == "matched":
            state = self._matched(line, transaction_id)
        if state == "proposed":
            self._propose(line, transaction_id)
        self._plan.said.append((transaction_id, state, _reason(line, state)))
        return state

    def _paired(self, line: LineAnswer, transaction_id: UUID) -> str:
        """A payment that only one ring-up fits, and no other: link the two."""
        ring_up = self._gathered.paired[line.transaction_id]
        reason = "rung up at the stall for just this much, within minutes of it"
        new = matches.NewMatch(
            transaction_id=transaction_id,
            state="matched",
            explanation="pieces" if ring_up["item_ids"] else "untagged",
            probability=PAIRED_PROBABILITY,
            reason=reason,
            reconciliation_id=self._run_id,
            sale_id=ring_up["id"],
            pieces=self._rung_up[ring_up["id"]],
        )
        self._plan.matches[transaction_id] = [matches.Planned(new)]
        self._plan.said.append((transaction_id, "matched", reason))
        return "matched"

    def _matched(self, line: LineAnswer, transaction_id: UUID) -> str:
        ring_up = self._ring_ups.pop(tuple(sorted(line.item_ids)), None)
        pieces = self._pieces(line, line.item_ids, line.prices_minor)
        row = self._gathered.lines[line.transaction_id]
        sells = row["kind"] in ("payment", "sale")
        if sells and ring_up is None and not self._take(pieces):
            self._plan.conflicts += [(line, p.item_id) for p in pieces]
            return "proposed"
        best = line.candidates[0] if line.candidates else None
        new = matches.NewMatch(
            transaction_id=transaction_id,
            state="matched",
            explanation="pieces" if best is None else best.explanation,
            probability=line.probability,
            reason=line.reason,
            evidence=_evidence(best),
            reconciliation_id=self._run_id,
            related_transaction_id=UUID(line.related_id) if line.related_id else None,
            sale_id=ring_up,
            pieces=pieces,
        )
        sale = matches.sale_of(row) if sells and ring_up is None and pieces else None
        self._plan.matches[transaction_id] = [matches.Planned(new, sale)]
        return "matched"

    def _pieces(
        self, line: LineAnswer, item_ids: Sequence[str], prices: Sequence[int]
    ) -> list[matches.Piece]:
        """Say what each item brought: its share of the line without tip, postage and added tax."""
        paid = self._paid[line.transaction_id]
        own = apportion(paid, prices) if paid and sum(prices) > 0 else prices
        return _pieces(item_ids, own)

    def _take(self, pieces: Sequence[matches.Piece]) -> bool:
        if any(self._left.get(p.item_id, 0) < p.quantity for p in pieces):
            return False
        for p in pieces:
            self._left[p.item_id] -= p.quantity
        return True

    def _propose(self, line: LineAnswer, transaction_id: UUID) -> None:
        group = None if line.group is None else msgspec.to_builtins(line.group)
        self._plan.matches[transaction_id] = [
            matches.Planned(
                matches.NewMatch(
                    transaction_id=transaction_id,
                    state="proposed",
                    explanation=candidate.explanation,
                    rank=rank,
                    probability=candidate.probability,
                    reason=_said(candidate) or line.reason,
                    evidence=_evidence(candidate),
                    piece_group=group if rank == 1 else None,
                    reconciliation_id=self._run_id,
                    related_transaction_id=(
                        UUID(candidate.related_id) if candidate.related_id else None
                    ),
                    pieces=self._pieces(line, candidate.item_ids, candidate.prices_minor),
                )
            )
            for rank, candidate in enumerate(line.candidates[:SHOWN], 1)
        ]


def _reason(line: LineAnswer, state: str) -> str:
    if state == "proposed" and line.state == "matched":
        return "The piece it was for is sold to somebody else already: please look"
    if line.group is not None and state == "proposed":
        return line.group.sentence
    return line.reason


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
