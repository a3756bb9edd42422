"""What needs no weighing: people's words, references, refunds, unfinished tries."""

from __future__ import annotations

from collections import Counter, defaultdict

from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.line_answer import Candidate, LineAnswer, LineState
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.money_parts import shared
from stallkeep.domain.matching.naming import line_name, piece_name
from stallkeep.domain.matching.reconciliation import Finding
from stallkeep.domain.matching.rulings import Ruling, refused_sets
from stallkeep.domain.matching.signatures import LARGEST_BUNDLE

SETTLING = ("confirmed", "set_aside", "no_piece", "part_of_sale")


class Settled:
    """Lines that are settled before the model is asked.

    Attributes:
        answers: Per transaction id.
        taken: Units per item id that are spoken for.
        findings: Contradictions met on the way.
        untagged: Lines a person said were for no tagged piece.
    """

    def __init__(self, evidence: Evidence) -> None:
        self.evidence = evidence
        self.answers: dict[str, LineAnswer] = {}
        self.taken: Counter[str] = Counter()
        self.findings: list[Finding] = []
        self.pieces = {piece.item_id: piece for piece in evidence.pieces}
        self.lines = {line.transaction_id: line for line in evidence.lines}
        self.parts = self._sums_of_parts()
        self._obey_rulings()
        self._follow_references()
        self._leave_out_what_is_no_sale()
        self._leave_out_what_is_too_many()

    def _sums_of_parts(self) -> Counter[str]:
        """Per line that has a sale, what its other parts paid."""
        sums: Counter[str] = Counter()
        for ruling in self.evidence.rulings:
            part = self.lines.get(ruling.transaction_id)
            is_part = ruling.verdict == "part_of_sale" and part and part.kind != "refund"
            if is_part and ruling.related_id and part:
                sums[ruling.related_id] += part.amount_minor
        return sums

    def _obey_rulings(self) -> None:
        by_line: dict[str, list[Ruling]] = defaultdict(list)
        for ruling in self.evidence.rulings:
            if ruling.transaction_id in self.lines and ruling.verdict in SETTLING:
                by_line[ruling.transaction_id].append(ruling)
        for transaction_id in sorted(by_line):
            self._obey(self.lines[transaction_id], by_line[transaction_id])

    def _obey(self, line: MoneyLine, rulings: list[Ruling]) -> None:
        said = {(r.verdict, tuple(sorted(r.item_ids)), r.related_id) for r in rulings}
        if len(said) > 1:
            sentence = "two answers about this payment contradict each other"
            self._conflict(line, "rulings-contradict", sentence, ())
            return
        verdict, items, related = said.pop()
        if verdict == "confirmed":
            self._match(line, items, "you confirmed it", "confirmed-beyond-quantity")
        elif verdict == "set_aside":
            self._say(line, "set_aside", "you set it aside", certain=True)
        elif verdict == "part_of_sale":
            why = "you said it is a part of another sale"
            if line.kind == "refund":
                why = "you said which payment it gives back"
            self._say(line, "matched", why, certain=True, related_id=related)
        else:
            self._say(line, "unmatched", "you said it was for no tagged piece", certain=True)

    def _follow_references(self) -> None:
        known: dict[str, list[str]] = defaultdict(list)
        for piece in self.evidence.pieces:
            for reference in piece.references:
                known[reference].append(piece.item_id)
        refused = refused_sets(self.evidence.rulings)
        for transaction_id, line in sorted(self.lines.items()):
            if transaction_id in self.answers or not line.reference or not _takes_pieces(line):
                continue
            found = known.get(line.reference, [])
            if len(found) == 1:
                items = tuple(found * max(line.quantity, 1))
                if items in refused.get(transaction_id, ()):
                    continue
                self._match(
                    line, items, "the reference names its listing", "reference-beyond-quantity"
                )

    def _leave_out_what_is_no_sale(self) -> None:
        for transaction_id, line in sorted(self.lines.items()):
            if transaction_id in self.answers:
                continue
            if not line.completed:
                self._say(line, "unmatched", "the try was not completed, so it took no piece")
            elif line.kind != "refund" and line.amount_minor <= 0:
                self._say(line, "unmatched", "no money came in by this line")
                self.findings.append(
                    Finding(
                        code="amount-not-positive",
                        sentence=f"{line_name(self.evidence, line)} cannot be for a piece: "
                        "no money came in.",
                        transaction_ids=(transaction_id,),
                        amount_minor=line.amount_minor,
                    )
                )

    def _leave_out_what_is_too_many(self) -> None:
        """A bundle larger than the model knows is not explained by smaller ones."""
        for ruling in self.evidence.rulings:
            line = self.lines.get(ruling.transaction_id)
            if ruling.verdict != "count" or line is None or line.transaction_id in self.answers:
                continue
            if (ruling.pieces or 0) > LARGEST_BUNDLE:
                why = f"you said it was for {ruling.pieces} pieces: say which; sets of more than "
                self._say(line, "unmatched", f"{why}{LARGEST_BUNDLE} are not searched for")

    def _match(self, line: MoneyLine, items: tuple[str, ...], why: str, code: str) -> None:
        wanted = Counter(items)
        short = [
            item
            for item, count in sorted(wanted.items())
            if item not in self.pieces
            or self.taken[item] + count > max(self.pieces[item].quantity, 1)
        ]
        if short:
            names = [piece_name(self.pieces[i]) if i in self.pieces else i for i in short]
            are = "is" if len(names) == 1 else "are"
            sentence = f"{why}, but {', '.join(names)} {are} spoken for already"
            self._conflict(line, code, sentence, tuple(short))
            return
        self.taken.update(wanted)
        paid = line.amount_minor + self.parts[line.transaction_id]
        prices = shared(paid, [self.pieces[i].price_minor or 0 for i in items])
        only = Candidate(explanation="pieces", item_ids=items, prices_minor=prices, probability=1.0)
        self.answers[line.transaction_id] = LineAnswer(
            transaction_id=line.transaction_id,
            state="matched",
            item_ids=items,
            prices_minor=prices,
            probability=1.0,
            reason=why,
            candidates=(only,),
            certain=True,
        )

    def _conflict(self, line: MoneyLine, code: str, sentence: str, items: tuple[str, ...]) -> None:
        self._say(line, "conflict", sentence)
        self.findings.append(
            Finding(
                code=code,
                sentence=f"{line_name(self.evidence, line)}: {sentence}.",
                transaction_ids=(line.transaction_id,),
                item_ids=items,
                amount_minor=line.amount_minor,
            )
        )

    def _say(
        self,
        line: MoneyLine,
        state: LineState,
        reason: str,
        *,
        certain: bool = False,
        related_id: str | None = None,
    ) -> None:
        self.answers[line.transaction_id] = LineAnswer(
            transaction_id=line.transaction_id,
            state=state,
            reason=reason,
            probability=1.0 if certain else 0.0,
            related_id=related_id,
            certain=certain,
        )


def _takes_pieces(line: MoneyLine) -> bool:
    return line.completed and line.kind != "refund" and line.amount_minor > 0
