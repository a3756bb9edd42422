"""Matches: what a transaction was, or may have been, for."""

from __future__ import annotations

from typing import Literal
from uuid import UUID

from litestar import get
from litestar.di import NamedDependency
from litestar.params import FromPath

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.schemas import View
from stallkeep.domain.money import to_text
from stallkeep.store.matches import StoredMatch, matches_of
from stallkeep.work.read_transaction import read_transaction


class Piece(View):
    """An item and what it brought."""

    item_id: UUID
    tag_code: str
    title: str
    quantity: int
    price: str


class Weight(View):
    """One piece of evidence: match weight in bits, and what was seen."""

    bits: float
    sentence: str


class Group(View):
    """Pieces of which the evidence says only that some of them were sold."""

    item_ids: list[UUID]
    tag_prices: list[str]
    probability: float
    sentence: str


class Match(View):
    """One explanation of a transaction: matched, or proposed with its probability."""

    state: Literal["matched", "proposed"]
    explanation: str
    rank: int
    probability: float
    reason: str
    pieces: list[Piece]
    evidence: list[Weight]
    group: Group | None
    sale_id: UUID | None
    related_transaction_id: UUID | None
    decided_by: str | None


def match_view(row: StoredMatch, currency: str) -> Match:
    """Show one match, its amounts in the transaction's currency."""
    group = row.piece_group
    return Match(
        state=row.state,  # type: ignore[arg-type]  # the table's check holds the same words
        explanation=row.explanation,
        rank=row.rank,
        probability=row.probability,
        reason=row.reason,
        pieces=[
            Piece(
                item_id=UUID(piece["item_id"]),
                tag_code=piece["tag_code"],
                title=piece["title"],
                quantity=piece["quantity"],
                price=to_text(piece["price_minor"], currency),
            )
            for piece in row.pieces
        ],
        evidence=[Weight(bits=e["bits"], sentence=e["sentence"]) for e in row.evidence],
        group=None
        if group is None
        else Group(
            item_ids=[UUID(item) for item in group["item_ids"]],
            tag_prices=[to_text(price, currency) for price in group["tag_prices_minor"]],
            probability=group["probability"],
            sentence=group["sentence"],
        ),
        sale_id=row.sale_id,
        related_transaction_id=row.related_transaction_id,
        decided_by=row.decided_by,
    )


@get(
    "/v1/transactions/{transaction_id:uuid}/candidates",
    operation_id="listCandidates",
    tags=["transactions"],
    opt=FOR_HELPERS,
)
async def list_candidates(
    transaction_id: FromPath[UUID], caller: NamedDependency[Caller]
) -> list[Match]:
    """List what a transaction may have been for, likeliest first, each with its evidence."""
    async with caller.read_scope() as con:
        row = await read_transaction(con, caller.shop.shop_id, transaction_id)
        found = await matches_of(con, caller.shop.shop_id, [transaction_id])
    return [match_view(match, row.currency) for match in found]


ROUTES = (list_candidates,)
