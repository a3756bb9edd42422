"""What people said, or entered at the stall, as words of the evidence."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from stallkeep.domain.matching import MoneyLine, PieceRuling, RingUp, Ruling
from stallkeep.domain.matching.paired import pair_ring_ups
from stallkeep.domain.matching.rulings import refused_sets
from stallkeep.store import rulings
from stallkeep.store.connection import Row

PAIRED_PROBABILITY: Final = 0.999
"""Of a payment and a ring-up that fit each other and nothing else: a judgement, not measured.

Common practice, no source. A shop that wants to be surer leaves such pairs to the engine.
"""


def ruling_told(ruling: rulings.Ruling) -> Ruling:
    """Turn a stored word about a line into the engine's.

    Who said it and when stay behind: they are part of what draws start from, and the same words
    said once more would move the answer.
    """
    return Ruling(
        transaction_id=str(ruling.transaction_id),
        verdict=ruling.kind,  # type: ignore[arg-type]  # the table's check holds the same words
        item_ids=tuple(str(item) for item in ruling.item_ids),
        pieces=ruling.pieces,
        related_id=str(ruling.related_transaction_id) if ruling.related_transaction_id else None,
    )


def piece_ruling_told(ruling: rulings.PieceRuling) -> PieceRuling:
    """Turn a stored word about a piece into the engine's, without who said it and when."""
    return PieceRuling(item_id=str(ruling.item_id), still_here=ruling.still_here)


def as_ruling(transaction_id: str, entered: Row) -> Ruling:
    """A sale entered at the stall tells what its money was for as well as a person's word."""
    items = tuple(str(item) for item in entered["item_ids"] or ())
    return Ruling(
        transaction_id=transaction_id,
        verdict="confirmed" if items else "no_piece",
        item_ids=items,
        by="entered at the sale",
    )


def ring_up_told(row: Row) -> RingUp:
    """Turn a sale entered at the stall into evidence."""
    return RingUp(
        ring_up_id=str(row["id"]),
        item_ids=tuple(str(item) for item in row["item_ids"] or ()),
        total_minor=row["total_minor"],
        occurred_on=row["sold_on"],
        occurred_at=row["sold_at"],
        method=row["method"],
    )


def paired_ring_ups(
    ring_ups: Iterable[Row], lines: Sequence[MoneyLine], said: Sequence[Ruling]
) -> dict[str, Row]:
    """Find the waiting ring-up that alone fits a line: transaction id to its row."""
    waiting = {str(row["id"]): row for row in ring_ups if row["transaction_id"] is None}
    told = [ring_up_told(row) for row in waiting.values()]
    pairs = pair_ring_ups(told, lines, refused_sets(said))
    return {transaction_id: waiting[ring_up] for transaction_id, ring_up in pairs.items()}
