"""Why a piece goes with a day and an hour: its stub, what is written on it, when it was out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from stallkeep.domain.matching.line_problem import LineProblem
from stallkeep.domain.matching.piece_evidence import was_out
from stallkeep.domain.matching.pieces import RailPiece
from stallkeep.domain.matching.rail import Rail
from stallkeep.domain.tag_codes import normalise

SHOWN = 2


def when_sentence(rail: Rail, line: LineProblem, pieces: Sequence[RailPiece]) -> str:
    """Say in one sentence what speaks for or against these pieces at that time."""
    told = list(dict.fromkeys(said for piece in pieces for said in _about(rail, line, piece)))
    return ", and ".join(told[:SHOWN]) or "when it was on the rail, beside when it was paid"


def _about(rail: Rail, line: LineProblem, piece: RailPiece) -> Iterator[str]:
    day = line.line.occurred_on
    days = rail.stub_days.get(rail.place[piece.item_id], frozenset())
    written = _written(rail, line, piece) if day in days else None
    if written is not None:
        just = "just this" if written == line.paid else "another price"
        yield f"{just} is written on its stub"
    elif day in days:
        yield "its stub is of that day"
    elif days:
        yield "its stub is of another day"
    elif day in rail.stubs_kept:
        yield "no stub of it was kept that day"
    if not was_out(piece, line.line):
        yield "it was put out after this payment"
    if line.paid < (piece.floor_minor or 0):
        yield "it is less than the lowest price you meant to take"


def _written(rail: Rail, line: LineProblem, piece: RailPiece) -> int | None:
    code = normalise(piece.tag_code or "")
    prices = (
        stub.price_minor
        for stub in rail.evidence.stubs
        if stub.price_minor is not None
        and stub.day == line.line.occurred_on
        and normalise(stub.code) == code
    )
    return next(prices, None)
