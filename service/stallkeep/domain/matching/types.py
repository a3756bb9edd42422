"""What a reconciliation is given and what it hands back.

Ids are text (a UUID's canonical form); money is in minor units of the shop's currency; days are
dates in the shop's zone; moments carry a zone. A set of pieces is a tuple of item ids in which an
id stands once per piece, so two of the same handmade cup are the id twice. Probabilities run from
0 to 1, match weights are bits: log2 of the likelihood ratio.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Literal, TypeAlias

import msgspec

ENGINE_VERSION = 4

LineKind: TypeAlias = Literal["payment", "refund", "sale"]
LineState: TypeAlias = Literal["matched", "proposed", "unmatched", "set_aside", "conflict"]
Verdict: TypeAlias = Literal[
    "confirmed", "refused", "set_aside", "no_piece", "count", "part_of_sale"
]
Explanation: TypeAlias = Literal[
    "pieces", "untagged", "double_charge", "part_of_sale", "refund_of", "not_a_sale"
]
Method: TypeAlias = Literal["certain", "exact", "sampled"]


class SoldElsewhere(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A sale of the piece on another channel.

    Attributes:
        day: Day of that sale.
        quantity: Pieces sold there.
        probability: How sure it is that it was this piece; 1 for a matched sale.
    """

    day: dt.date
    quantity: int = 1
    probability: float = 1.0


class RailPiece(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A piece that may have been sold: on the rail of an event, or in stock for a channel.

    Attributes:
        item_id: Id of the item.
        tag_code: Code on its swing tag.
        title: As in stock.
        category: As in stock.
        price_minor: What the tag (or the listing) said at that time; None when unknown.
        quantity: Pieces taken; at least 1.
        put_out_at: Moment it was put out, where known.
        put_out_on: Day it was put out; None means from the start.
        counted_home: Pieces the stock count found; None when there was no count.
        sold_elsewhere: Sales of it on other channels.
        cost_minor: What it cost the shop.
        floor_minor: The lowest price the seller meant to take.
        references: Outside references of its listings, exactly as given.
        listed_on: First day on offer on the channel.
        ended_on: Day the listing ended.
    """

    item_id: str
    tag_code: str | None = None
    title: str = ""
    category: str | None = None
    price_minor: int | None = None
    quantity: int = 1
    put_out_at: dt.datetime | None = None
    put_out_on: dt.date | None = None
    counted_home: int | None = None
    sold_elsewhere: tuple[SoldElsewhere, ...] = ()
    cost_minor: int | None = None
    floor_minor: int | None = None
    references: tuple[str, ...] = ()
    listed_on: dt.date | None = None
    ended_on: dt.date | None = None


class MoneyLine(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """One transaction that money came in (or went back) by.

    Attributes:
        transaction_id: Id of the transaction.
        kind: payment (card reader, cash tally), refund, or sale (a channel's order line).
        amount_minor: What the customer paid, tip and tax included; negative for a refund.
        occurred_on: Day.
        occurred_at: Moment, where the export has one.
        tip_minor: Tip shown within the amount.
        tax_minor: Tax shown within the amount; part of the price unless *tax_added*.
        tax_added: True when tax comes on top of tag prices.
        postage_minor: Postage within the amount.
        method: card, cash, online, transfer, other.
        note: What was typed beside it.
        title: Title the export gave.
        reference: The channel's reference of order, listing or item.
        tag_code: Code the export gave in a column of its own.
        related_id: Transaction id of the line this one belongs to (a refund's payment).
        quantity: Pieces, where the export says; 1 also means "does not say" for payments.
        completed: False for a declined or voided try: it never consumes a piece.
    """

    transaction_id: str
    kind: LineKind = "payment"
    amount_minor: int
    occurred_on: dt.date
    occurred_at: dt.datetime | None = None
    tip_minor: int | None = None
    tax_minor: int | None = None
    tax_added: bool = False
    postage_minor: int | None = None
    method: str | None = None
    note: str | None = None
    title: str | None = None
    reference: str | None = None
    tag_code: str | None = None
    related_id: str | None = None
    quantity: int = 1
    completed: bool = True


class Ruling(msgspec.Struct, frozen=True, kw_only=True):
    """A person's word about one line; never overturned.

    Attributes:
        transaction_id: The line.
        verdict: confirmed (it was these pieces; also a choice by hand), refused (not these),
            set_aside (no sale to be matched), no_piece (a sale of something without a tag),
            count (it was for *pieces* pieces), part_of_sale (it is a part of the sale of
            *related_id*, which is confirmed).
        item_ids: The pieces, for confirmed and refused.
        pieces: Number of pieces, for count.
        related_id: The line that has the sale, for part_of_sale.
        by: Who said it.
        at: When.
    """

    transaction_id: str
    verdict: Verdict
    item_ids: tuple[str, ...] = ()
    pieces: int | None = None
    related_id: str | None = None
    by: str = ""
    at: dt.datetime | None = None


class PieceRuling(msgspec.Struct, frozen=True, kw_only=True):
    """A person's word about one piece: somebody looked.

    Attributes:
        item_id: The piece.
        still_here: Pieces of it that are still there (0 or 1 for a single piece).
        by: Who said it.
        at: When.
    """

    item_id: str
    still_here: int
    by: str = ""
    at: dt.datetime | None = None


class RingUp(msgspec.Struct, frozen=True, kw_only=True):
    """A sale entered at the stall, pieces and price together.

    Attributes:
        ring_up_id: Its id.
        item_ids: Pieces sold.
        total_minor: What was asked for all of them.
        occurred_on: Day.
        occurred_at: Moment by the device's clock.
        method: card, cash, …
    """

    ring_up_id: str
    item_ids: tuple[str, ...]
    total_minor: int
    occurred_on: dt.date
    occurred_at: dt.datetime | None = None
    method: str | None = None


class Stub(msgspec.Struct, frozen=True, kw_only=True):
    """The kept part of a sold piece's tag.

    Attributes:
        code: Tag code as read.
        day: Day it was kept.
        position: Place in the order of that day, from 0; None when the order is not known.
        price_minor: Price paid, if somebody wrote it on.
    """

    code: str
    day: dt.date
    position: int | None = None
    price_minor: int | None = None


class CashTotal(msgspec.Struct, frozen=True, kw_only=True):
    """Cash sales of one day by the box: lines of a tally included.

    Attributes:
        day: Day.
        total_minor: Sum of cash taken for pieces.
    """

    day: dt.date
    total_minor: int


class Habits(msgspec.Struct, frozen=True, kw_only=True):
    """What has been learned about how this shop sells.

    Attributes:
        learned: Habit name to the weight of evidence seen so far (expected counts), added to
            the priors of ``habits.py``. Empty for a new shop. Plain JSON; keep it per shop.
        events: Events it was learned from.
    """

    learned: Mapping[str, float] = {}
    events: int = 0


class Evidence(msgspec.Struct, frozen=True, kw_only=True):
    """Everything known about one event, or one channel and period.

    Attributes:
        scope: "event" or "channel".
        pieces: What may have been sold.
        lines: Money lines, any order.
        days: Days of the event; empty when not known.
        unit_minor: Minor units in one unit of the currency (100 for EUR, 1 for JPY).
        rulings: People's words about lines.
        piece_rulings: People's words about pieces.
        ring_ups: Sales entered at the stall.
        stubs: Kept stubs.
        stubs_kept_on: Days on which stubs were kept; None means the days of *stubs*.
        cash_totals: Cash per day.
        habits: What was learned before.
    """

    scope: Literal["event", "channel"] = "event"
    pieces: tuple[RailPiece, ...] = ()
    lines: tuple[MoneyLine, ...] = ()
    days: tuple[dt.date, ...] = ()
    unit_minor: int = 100
    rulings: tuple[Ruling, ...] = ()
    piece_rulings: tuple[PieceRuling, ...] = ()
    ring_ups: tuple[RingUp, ...] = ()
    stubs: tuple[Stub, ...] = ()
    stubs_kept_on: tuple[dt.date, ...] | None = None
    cash_totals: tuple[CashTotal, ...] = ()
    habits: Habits = Habits()


class Budget(msgspec.Struct, frozen=True, kw_only=True):
    """How much work a run may do; in steps, not seconds, so that every machine answers alike.

    Attributes:
        effort: Multiple of the usual number of sampling sweeps.
        exact_states: Largest number of joint explanations that is enumerated exactly.
    """

    effort: float = 1.0
    exact_states: int = 20_000


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
        habit: "codes_in_notes", "stubs", "count" or "none".
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
        kind: still_here (answer with a PieceRuling), which_here (with one for each piece) or
            how_many (a Ruling with verdict count).
        sentence: The question.
        bits: Expected information gained about all lines together.
        item_id: The piece, for still_here.
        item_ids: The pieces to look for, for which_here: all of one price, one look at the rail.
        transaction_id: The line, for how_many.
        probability: That the answer is "yes, still here", all of them, or one piece.
    """

    kind: Literal["still_here", "which_here", "how_many"]
    sentence: str
    bits: float
    item_id: str | None = None
    item_ids: tuple[str, ...] = ()
    transaction_id: str | None = None
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
        habit_note: Left empty by a run, for it costs three more; ``habit_note()`` makes it.
        report: How it was reached.
        engine_version: Raised when answers may change for the same evidence.
    """

    answers: tuple[LineAnswer, ...]
    findings: tuple[Finding, ...] = ()
    pieces: tuple[PieceAnswer, ...] = ()
    habits: Habits = Habits()
    habit_note: HabitNote | None = None
    report: Report = Report()
    engine_version: int = ENGINE_VERSION
