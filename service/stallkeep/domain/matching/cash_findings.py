"""The cash box against the lines: money without a line, and lines beyond the money.

The sum without a line was taken for pieces nobody wrote down. How many is worked out from what a
piece brought at this event; which ones, no amount tells. So it is said, and moves nothing.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence

from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.line_answer import LineAnswer
from stallkeep.domain.matching.naming import money
from stallkeep.domain.matching.reconciliation import Finding

WORTH_TELLING = 0.5  # of a usual piece: less is a slip of the count


def cash_findings(evidence: Evidence, answers: Sequence[LineAnswer]) -> list[Finding]:
    """Compare each day's cash with its lines.

    Returns:
        ``cash-without-line`` and ``cash-lines-exceed-total``, by day; the amount is the
        difference, minor units, above 0 in both.
    """
    lines = cash_lines(evidence)
    piece = usual_piece(evidence, answers)
    found = []
    for total in sorted(evidence.cash_totals, key=lambda t: t.day):
        left = total.total_minor - lines[total.day]
        if left < 0:
            found.append(_beyond(evidence, total.day, total.total_minor, lines[total.day]))
        elif piece and left >= WORTH_TELLING * piece:
            found.append(_without(evidence, total.day, left, left / piece))
    return found


def cash_lines(evidence: Evidence) -> Counter[dt.date]:
    """Sum the cash of each day that has a line, refunds taken off; minor units."""
    sums: Counter[dt.date] = Counter()
    for line in evidence.lines:
        if line.method == "cash" and line.completed:
            back = line.kind == "refund" and line.amount_minor > 0
            sums[line.occurred_on] += -line.amount_minor if back else line.amount_minor
    return sums


def usual_piece(evidence: Evidence, answers: Sequence[LineAnswer]) -> float:
    """What a piece brought in the mean, minor units; by the tags where no payment tells; else 0."""
    paid = {x.transaction_id: x.amount_minor for x in evidence.lines if x.kind != "refund"}
    sum_minor = pieces = 0.0
    for answer in answers:
        expected = float(sum(k * p for k, p in enumerate(answer.sizes)))
        number = float(len(answer.item_ids)) or expected
        if number and answer.transaction_id in paid:
            sum_minor += sum(answer.prices_minor) or paid[answer.transaction_id]
            pieces += number
    if pieces:
        return sum_minor / pieces
    tags = [piece.price_minor for piece in evidence.pieces if piece.price_minor]
    return sum(tags) / len(tags) if tags else 0.0


def _without(evidence: Evidence, day: dt.date, left: int, pieces: float) -> Finding:
    number = max(round(pieces), 1)
    about = "about 1 piece" if number == 1 else f"about {number} pieces"
    return Finding(
        code="cash-without-line",
        sentence=f"{money(evidence, left)} of the cash of {day} has no line: {about}.",
        amount_minor=left,
    )


def _beyond(evidence: Evidence, day: dt.date, total: int, lines: int) -> Finding:
    return Finding(
        code="cash-lines-exceed-total",
        sentence=(
            f"The cash lines of {day} sum to {money(evidence, lines)}, but the box took "
            f"{money(evidence, total)}: a line stands twice, or money left the box unnoted."
        ),
        transaction_ids=tuple(
            sorted(
                line.transaction_id
                for line in evidence.lines
                if line.method == "cash" and line.completed and line.occurred_on == day
            )
        ),
        amount_minor=lines - total,
    )
