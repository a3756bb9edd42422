"""How much of the takings a check is expected to settle: the answer thought through, line by line.

For each answer that may come, the candidates of a line that it rules out go, and the others share
their probability; a line's best candidate then stands nearer to certain, or farther from it. The
worth of a check is the mean over its answers of what the best candidates gain, by the line's
amount, nearly certain ones counting most. Lines move together, which this leaves out: it ranks.
"""

from __future__ import annotations

from collections import defaultdict

from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.line_answer import LineAnswer
from stallkeep.domain.matching.reconciliation import Question, Reconciliation

NEARLY = 4
"""A best candidate of probability p counts p**NEARLY: half sure is worth a sixteenth."""
COMES_BACK = 0.5
"""Of pieces whose price was given back: nothing is known. Common practice, no source."""


class Worth:
    """The open lines of an event, and what a look or a number would do to them."""

    def __init__(self, evidence: Evidence, reconciliation: Reconciliation) -> None:
        self.amount = {line.transaction_id: line.amount_minor for line in evidence.lines}
        self.open = {
            answer.transaction_id: answer
            for answer in reconciliation.answers
            if answer.state == "proposed" and answer.candidates
        }
        self.gone = {piece.item_id: piece.gone for piece in reconciliation.pieces}
        self.lines_of: dict[str, list[LineAnswer]] = defaultdict(list)
        for answer in self.open.values():
            for item in sorted({i for c in answer.candidates for i in c.item_ids}):
                self.lines_of[item].append(answer)

    def of(self, question: Question) -> float:
        """Minor units that are expected to be settled by the answer; looks add up."""
        if question.kind == "given_back":
            return self._of_refund(question)
        if question.transaction_id is not None:
            answer = self.open.get(question.transaction_id)
            return self._of_number(answer) if answer else 0.0
        looks = question.item_ids or ((question.item_id,) if question.item_id else ())
        return sum(self._of_looks(item_id) for item_id in looks)

    def _of_refund(self, question: Question) -> float:
        """All of it: nothing but the answer tells what came back; half sure is nearly unsure."""
        now = _nearly(question.probability * COMES_BACK)
        return abs(self.amount[question.transaction_id or ""]) * (1.0 - now)

    def _of_looks(self, item_id: str) -> float:
        gone = self.gone.get(item_id, 0.0)
        return sum(self._of_look(answer, item_id, gone) for answer in self.lines_of[item_id])

    def _of_number(self, answer: LineAnswer) -> float:
        best: dict[int, float] = defaultdict(float)
        for candidate in answer.candidates:
            size = len(candidate.item_ids)
            best[size] = max(best[size], candidate.probability)
        after = 0.0
        for size, share in enumerate(answer.sizes):
            if share > 0:
                after += share * _nearly(best[size] / share)
        return self.amount[answer.transaction_id] * max(after - self._now(answer), 0.0)

    def _of_look(self, answer: LineAnswer, item_id: str, gone: float) -> float:
        with_it = [c.probability for c in answer.candidates if item_id in c.item_ids]
        without = [c.probability for c in answer.candidates if item_id not in c.item_ids]
        gone = max(gone, sum(with_it))
        stays = _nearly(max(without, default=0.0) / max(1.0 - sum(with_it), 1e-9))
        went = _nearly(max(max(with_it) / gone, max(without, default=0.0)))
        after = (1.0 - gone) * stays + gone * went
        return self.amount[answer.transaction_id] * max(after - self._now(answer), 0.0)

    def _now(self, answer: LineAnswer) -> float:
        return _nearly(answer.candidates[0].probability)


def _nearly(probability: float) -> float:
    return float(min(probability, 1.0) ** NEARLY)
