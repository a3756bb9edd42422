"""The first engine: codes, references, and one joint assignment by exact price and title."""

from __future__ import annotations

from collections import Counter, defaultdict

import numpy as np
from rapidfuzz import fuzz
from scipy.optimize import linear_sum_assignment

from stallkeep.domain.matching import (
    Budget,
    Candidate,
    Evidence,
    Finding,
    LineAnswer,
    MoneyLine,
    RailPiece,
    Reconciliation,
    Weight,
)
from stallkeep.domain.matching.notes import known_codes_in
from stallkeep.domain.tag_codes import normalise

SOLE_HOLDER = 0.9  # only piece at this price: haggled and bundled sales could still be behind it
SAME_TITLE = 90.0  # rapidfuzz token-set ratio from which a title counts as named
NAMED = 0.995


class FirstEngine:
    """One run over one Evidence."""

    def __init__(self, evidence: Evidence, threshold: float, budget: Budget) -> None:
        self.evidence = evidence
        self.threshold = threshold
        self.budget = budget
        self.pieces = {piece.item_id: piece for piece in evidence.pieces}
        self.codes = {normalise(p.tag_code): p.item_id for p in evidence.pieces if p.tag_code}
        self.references = {r: p.item_id for p in evidence.pieces for r in p.references}
        self.left = Counter({p.item_id: p.quantity for p in evidence.pieces})
        self.answers: dict[str, LineAnswer] = {}
        self.findings: list[Finding] = []

    def run(self) -> Reconciliation:
        """Rulings first, then what is certain, then the joint assignment of the rest."""
        lines = sorted(self.evidence.lines, key=lambda line: line.transaction_id)
        self._obey_rulings()
        for line in lines:
            if line.transaction_id not in self.answers:
                self._settle_if_certain(line)
        self._assign([line for line in lines if line.transaction_id not in self.answers])
        return Reconciliation(
            answers=tuple(self.answers[line.transaction_id] for line in self.evidence.lines),
            findings=tuple(self.findings),
            habits=self.evidence.habits,
        )

    def _obey_rulings(self) -> None:
        known = {line.transaction_id: line for line in self.evidence.lines}
        for ruling in sorted(self.evidence.rulings, key=lambda r: (r.transaction_id, r.item_ids)):
            line = known.get(ruling.transaction_id)
            if line is None or ruling.verdict in ("refused", "count"):
                continue
            if ruling.verdict == "confirmed":
                self._take(line, ruling.item_ids, 1.0, "you confirmed it")
            elif ruling.verdict == "set_aside":
                self._say(line, "set_aside", "you set it aside")
            else:
                self._say(line, "unmatched", "you said it was for no tagged piece")

    def _settle_if_certain(self, line: MoneyLine) -> None:
        if line.kind == "refund" or not line.completed:
            self._say(line, "unmatched", "a refund or an unfinished try takes no piece")
        elif line.reference and line.reference in self.references:
            self._take(
                line, (self.references[line.reference],), 1.0, "the reference names its listing"
            )
        elif named := known_codes_in(line.tag_code or line.note, self.codes):
            self._take(line, tuple(named), 0.999, "the note names its tag code")

    def _take(self, line: MoneyLine, ids: tuple[str, ...], probability: float, why: str) -> None:
        wanted = Counter(ids)
        if any(self.left[item] < count for item, count in wanted.items()):
            self._conflict(line, ids, why)
            return
        self.left.subtract(wanted)
        prices = _apportion(line.amount_minor, [self.pieces[item].price_minor or 0 for item in ids])
        best = Candidate(
            explanation="pieces", item_ids=ids, prices_minor=prices, probability=probability
        )
        self.answers[line.transaction_id] = LineAnswer(
            transaction_id=line.transaction_id,
            state="matched",
            item_ids=ids,
            prices_minor=prices,
            probability=probability,
            reason=why,
            candidates=(best,),
            certain=probability == 1.0,
        )

    def _conflict(self, line: MoneyLine, ids: tuple[str, ...], why: str) -> None:
        sentence = f"{why}, but that piece is already taken or not known here"
        self._say(line, "conflict", sentence)
        self.findings.append(
            Finding(
                code="piece-claimed-twice",
                sentence=sentence,
                transaction_ids=(line.transaction_id,),
                item_ids=ids,
            )
        )

    def _say(self, line: MoneyLine, state: str, reason: str) -> None:
        self.answers[line.transaction_id] = LineAnswer(
            transaction_id=line.transaction_id,
            state=state,  # type: ignore[arg-type]
            reason=reason,
        )

    def _assign(self, lines: list[MoneyLine]) -> None:
        by_price: dict[int, list[str]] = defaultdict(list)
        for item, left in sorted(self.left.items()):
            price = self.pieces[item].price_minor
            if price is not None:
                by_price[price] += [item] * left
        units = [item for price in sorted(by_price) for item in by_price[price]]
        scores = np.array([[self._score(line, item) for item in units] for line in lines])
        chosen: dict[int, int] = {}
        if scores.size:
            rows, columns = linear_sum_assignment(scores, maximize=True)
            chosen = {int(r): int(c) for r, c in zip(rows, columns, strict=True)}
        rivals = Counter(line.amount_minor for line in lines)
        for row, line in enumerate(lines):
            pick = units[chosen[row]] if row in chosen and scores[row, chosen[row]] > 0 else None
            self._answer(line, pick, by_price[line.amount_minor], rivals[line.amount_minor])

    def _score(self, line: MoneyLine, item: str) -> float:
        if self.pieces[item].price_minor != line.amount_minor or self._refused(line, item):
            return 0.0
        return 1.0 + self._similarity(line, self.pieces[item]) / 100

    def _similarity(self, line: MoneyLine, piece: RailPiece) -> float:
        text = " ".join(filter(None, (line.title, line.note))).casefold()
        return fuzz.token_set_ratio(text, piece.title.casefold()) if text and piece.title else 0.0

    def _refused(self, line: MoneyLine, item: str) -> bool:
        return any(
            ruling.verdict == "refused"
            and ruling.transaction_id == line.transaction_id
            and ruling.item_ids == (item,)
            for ruling in self.evidence.rulings
        )

    def _answer(self, line: MoneyLine, pick: str | None, holders: list[str], rivals: int) -> None:
        holders = [item for item in holders if not self._refused(line, item)]
        if pick is None or not holders:
            self._say(line, "unmatched", "no piece still there has this price on its tag")
            return
        share = SOLE_HOLDER / max(len(holders), rivals)
        named = [
            item
            for item in dict.fromkeys(holders)
            if self._similarity(line, self.pieces[item]) >= SAME_TITLE
        ]
        sure = named == [pick] and holders.count(pick) == len([h for h in holders if h in named])
        candidates = tuple(
            Candidate(
                explanation="pieces",
                item_ids=(item,),
                prices_minor=(line.amount_minor,),
                probability=NAMED if sure and item == pick else share * holders.count(item),
                weights=(Weight(bits=0.0, sentence="paid the price on the tag"),),
            )
            for item in sorted(dict.fromkeys(holders), key=lambda i: (i != pick, i))
        )
        matched = sure and threshold_met(self.threshold)
        self.answers[line.transaction_id] = LineAnswer(
            transaction_id=line.transaction_id,
            state="matched" if matched else "proposed",
            item_ids=(pick,) if matched else (),
            prices_minor=(line.amount_minor,) if matched else (),
            probability=candidates[0].probability,
            reason="price and title fit" if matched else f"{len(holders)} pieces have this price",
            candidates=candidates[:5],
        )


def threshold_met(threshold: float) -> bool:
    """Tell whether a named piece at its own price is sure enough."""
    return threshold <= NAMED


def _apportion(amount_minor: int, weights: list[int]) -> tuple[int, ...]:
    """Largest remainder, as in ``money``; equal parts when no piece has a price."""
    shares = weights if sum(weights) > 0 else [1] * len(weights)
    parts = [amount_minor * w // sum(shares) for w in shares]
    order = sorted(range(len(shares)), key=lambda i: -(amount_minor * shares[i] % sum(shares)))
    for i in order[: amount_minor - sum(parts)]:
        parts[i] += 1
    return tuple(parts)
