"""Greedy equal amount: the first piece left with this price on its tag, and quite sure of it."""

from __future__ import annotations

from stallkeep.domain.matching import Candidate, Evidence, LineAnswer, Reconciliation


def greedy(evidence: Evidence) -> Reconciliation:
    """Match in order; what nobody would want, and what a spreadsheet does."""
    left = {p.item_id: p.price_minor for p in evidence.pieces}
    answers = []
    for line in evidence.lines:
        found = next((i for i, price in left.items() if price == line.amount_minor), None)
        if found is None:
            answers.append(LineAnswer(transaction_id=line.transaction_id, state="unmatched"))
            continue
        del left[found]
        best = Candidate(
            explanation="pieces",
            item_ids=(found,),
            prices_minor=(line.amount_minor,),
            probability=0.99,
        )
        answers.append(
            LineAnswer(
                transaction_id=line.transaction_id,
                state="matched",
                item_ids=(found,),
                prices_minor=(line.amount_minor,),
                probability=0.99,
                candidates=(best,),
            )
        )
    return Reconciliation(answers=tuple(answers))
