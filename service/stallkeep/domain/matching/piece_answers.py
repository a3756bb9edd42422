"""What all lines together say about each piece."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.piece_evidence import gone_given_no_line
from stallkeep.domain.matching.pieces import RailPiece
from stallkeep.domain.matching.posterior import LinePosterior
from stallkeep.domain.matching.problem import Problem
from stallkeep.domain.matching.reconciliation import PieceAnswer


def piece_answers(
    evidence: Evidence,
    problem: Problem,
    posteriors: Sequence[LinePosterior],
    taken: Mapping[str, int],
    rung_up: Mapping[str, int],
) -> tuple[PieceAnswer, ...]:
    """Expected sales and chance of being gone, per piece in the order of the input.

    Args:
        evidence: As given.
        problem: The run's problem.
        posteriors: Of all lines that were weighed.
        taken: Units per item settled beforehand.
        rung_up: Units per item sold without a line.
    """
    sold: dict[str, float] = defaultdict(float)
    for posterior in posteriors:
        for option in posterior.options:
            for item in option.item_ids:
                sold[item] += option.probability
    chances = {name: problem.beliefs.chance(name) for name in problem.beliefs.chances}
    left = gone_given_no_line(problem.units, chances)
    otherwise: dict[str, float] = {}
    for u, i in enumerate(problem.units.item):
        item = problem.units.pieces[i].item_id
        otherwise[item] = max(otherwise.get(item, 0.0), float(left[u]))
    return tuple(
        _answer(
            piece,
            min(float(sold[piece.item_id]) + taken.get(piece.item_id, 0), piece.quantity),
            otherwise.get(piece.item_id, 0.0),
            rung_up.get(piece.item_id, 0),
        )
        for piece in evidence.pieces
    )


def _answer(piece: RailPiece, sold: float, otherwise: float, rung_up: int) -> PieceAnswer:
    away = sum(sale.quantity * sale.probability for sale in piece.sold_elsewhere)
    beyond = sold + rung_up + away - piece.quantity
    some = min(sold, 1.0)
    return PieceAnswer(
        item_id=piece.item_id,
        sold=sold,
        gone=1.0 if rung_up else some + (1 - some) * otherwise,
        double_sale=min(max(beyond, 0.0), 1.0) if away > 0 else 0.0,
    )
