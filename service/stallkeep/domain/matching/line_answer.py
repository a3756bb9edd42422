"""What a run says about one line: its state, and what it may have been for.

Probabilities run from 0 to 1, match weights are bits: log2 of the likelihood ratio. Ids, money and
sets of pieces are written as in the evidence.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

import msgspec

LineState: TypeAlias = Literal["matched", "proposed", "unmatched", "set_aside", "conflict"]
Explanation: TypeAlias = Literal[
    "pieces", "untagged", "double_charge", "part_of_sale", "refund_of", "not_a_sale"
]


class Weight(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """One piece of evidence for a candidate.

    Attributes:
        bits: log2 of how much likelier this is under the candidate than under its rival.
        sentence: What was seen, for the seller.
    """

    bits: float
    sentence: str


class Candidate(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """One explanation of a line.

    Attributes:
        explanation: What kind of explanation it is.
        item_ids: The pieces, sorted; empty when none.
        prices_minor: What each of them brought; parts of the line's amount, in that order.
        probability: Posterior probability of exactly this explanation.
        weights: The evidence against the next-best explanation; the sum of bits is log2 of the
            ratio of the two probabilities.
        related_id: The other line, for a double charge, a part of a sale, a refund.
    """

    explanation: Explanation
    item_ids: tuple[str, ...] = ()
    prices_minor: tuple[int, ...] = ()
    probability: float
    weights: tuple[Weight, ...] = ()
    related_id: str | None = None


class Group(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Pieces of which the evidence says only that some of them were sold.

    Attributes:
        item_ids: The pieces in question, sorted.
        tag_prices_minor: Tag prices of the pieces sold, one per piece sold, ascending.
        probability: That the line was for pieces at exactly these prices out of *item_ids*.
        sentence: "one of these 7 pieces at 40.00".
    """

    item_ids: tuple[str, ...]
    tag_prices_minor: tuple[int, ...]
    probability: float
    sentence: str


class LineAnswer(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """What the run says about one line.

    Attributes:
        transaction_id: The line.
        state: matched, proposed, unmatched, set_aside or conflict.
        item_ids: The pieces, when matched (or confirmed); else empty.
        prices_minor: What each brought, in that order.
        probability: Of the best explanation.
        reason: One sentence for the seller.
        candidates: Ranked, at most a handful.
        group: The group, where one stands for the line though no single set does.
        related_id: The line it belongs to (refund, double charge, part of a sale).
        sizes: Probability that it was for 0, 1, 2, 3, 4 pieces; empty when settled.
        expected_minor: Amount expected to be for tagged pieces, rounded.
        joint_item_ids: The pieces it has in the jointly best explanation of all lines.
        certain: True when a person's word, a reference or an order settles it.
    """

    transaction_id: str
    state: LineState
    item_ids: tuple[str, ...] = ()
    prices_minor: tuple[int, ...] = ()
    probability: float = 0.0
    reason: str = ""
    candidates: tuple[Candidate, ...] = ()
    group: Group | None = None
    related_id: str | None = None
    sizes: tuple[float, ...] = ()
    expected_minor: int = 0
    joint_item_ids: tuple[str, ...] = ()
    certain: bool = False
