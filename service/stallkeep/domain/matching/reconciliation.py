"""What a reconciliation hands back, and what may be asked about it.

Ids, money and sets of pieces are written as in the evidence; probabilities run from 0 to 1.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from stallkeep.domain.matching.evidence import Habits
from stallkeep.domain.matching.line_answer import LineAnswer

ENGINE_VERSION = 7


class Finding(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Something in the evidence a person should look at.

    Attributes:
        code: Kebab-case, stable.
        sentence: What was seen and what to do.
        transaction_ids: Lines it is about.
        item_ids: Pieces it is about.
        amount_minor: Money it is about.
        probability: How sure it is; 1 for plain contradictions.
    """

    code: str
    sentence: str
    transaction_ids: tuple[str, ...] = ()
    item_ids: tuple[str, ...] = ()
    amount_minor: int | None = None
    probability: float = 1.0


class PieceAnswer(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """What the run says about one piece.

    Attributes:
        item_id: The piece.
        sold: Expected number of it that the lines paid for.
        gone: Probability that at least one is gone, lines or not.
        double_sale: Probability that it was sold here and elsewhere beyond its quantity.
    """

    item_id: str
    sold: float
    gone: float
    double_sale: float = 0.0


class HabitNote(msgspec.Struct, frozen=True, kw_only=True):
    """Which habit would have helped most at this event.

    Attributes:
        habit: "codes_in_notes", "stubs", "count", "tally" or "none".
        sentence: For the seller.
        settled_now_minor: Takings that are matched.
        settled_then_minor: Takings expected to be matched with the habit.
    """

    habit: str
    sentence: str
    settled_now_minor: int
    settled_then_minor: int


class Question(msgspec.Struct, frozen=True, kw_only=True):
    """A check that would settle something.

    Attributes:
        kind: still_here (answer with a PieceRuling), which_here (with one for each piece),
            how_many (a Ruling with verdict count) or given_back (one with verdict part_of_sale).
        sentence: The question.
        bits: Expected information gained about all lines together.
        item_id: The piece, for still_here.
        item_ids: The pieces to look for, for which_here: all of one price, one look at the rail;
            those that may have come back, for given_back.
        transaction_id: The line, for how_many; the refund, for given_back.
        related_id: The payment that it most likely gives back, for given_back.
        probability: That the answer is "yes, still here", all of them, one piece, or that payment.
    """

    kind: Literal["still_here", "which_here", "how_many", "given_back"]
    sentence: str
    bits: float
    item_id: str | None = None
    item_ids: tuple[str, ...] = ()
    transaction_id: str | None = None
    related_id: str | None = None
    probability: float


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """How the answer was reached.

    Attributes:
        components: Connected parts the evidence fell into.
        exact: How many were enumerated exactly.
        draws: Samples behind the probabilities of the others.
        r_hat: Largest potential scale reduction over lines (1 is perfect); 1 when all exact.
        converged: r_hat below its bound in every component.
        optimum_proven: The jointly best explanation (``joint_item_ids``) is proven so, among
            the explanations sampled; False when the event was too large to try.
        candidates: Explanations weighed, over all lines.
    """

    components: int = 0
    exact: int = 0
    draws: int = 0
    r_hat: float = 1.0
    converged: bool = True
    optimum_proven: bool = False
    candidates: int = 0


class Reconciliation(msgspec.Struct, frozen=True, kw_only=True):
    """The answer to one Evidence.

    Attributes:
        answers: One per line, in the order of the input.
        findings: In a stable order.
        pieces: One per piece, in the order of the input.
        habits: To be kept for the next run, if this one is final.
        report: How it was reached.
        engine_version: Raised when answers may change for the same evidence.
    """

    answers: tuple[LineAnswer, ...]
    findings: tuple[Finding, ...] = ()
    pieces: tuple[PieceAnswer, ...] = ()
    habits: Habits = Habits()
    report: Report = Report()
    engine_version: int = ENGINE_VERSION
