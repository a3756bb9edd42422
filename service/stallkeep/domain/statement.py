"""A statement: the figures of an event, or of one day of it, added up from entries."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import ceil

import msgspec

from stallkeep.domain.break_even import margin_of_safety, pieces_for, whole_pieces
from stallkeep.domain.ledger import Entry
from stallkeep.domain.money import half_up

MILLION = 1_000_000
NOT_COSTS = ("takings", "not_income", "refunds", "tax", "cost_of_goods", "fees", "over_short")
COST_ORDER = (
    "pitch_fee",
    "travel",
    "parking",
    "food",
    "lodging",
    "helpers",
    "supplies",
    "other",
)


class Range(msgspec.Struct, frozen=True, kw_only=True):
    """An amount that may be estimated, in minor units; a fact has three equal values.

    Attributes:
        expected_minor: The figure to reckon with.
        low_minor: The least it can be.
        high_minor: The most it can be.
    """

    expected_minor: int
    low_minor: int
    high_minor: int

    @property
    def is_fact(self) -> bool:
        """Whether nothing in it is estimated."""
        return self.low_minor == self.high_minor


class CostTotal(msgspec.Struct, frozen=True, kw_only=True):
    """All costs of one kind, as a plus amount."""

    kind: str
    amount_minor: int


class PieceCount(msgspec.Struct, frozen=True, kw_only=True):
    """How many pieces were sold.

    Attributes:
        known: With a matched payment.
        estimated: Further pieces that are gone by a count of the whole rail or, without one,
            that unsettled payments were probably for.
        taken: Pieces on the rail, those sold without being listed there included.
    """

    known: int
    estimated: int
    taken: int

    @property
    def sold(self) -> int:
        """Pieces to reckon with: known and estimated."""
        return self.known + self.estimated


class Rates(msgspec.Struct, frozen=True, kw_only=True):
    """The net per something, in minor units, half up; None where the divisor is 0 or unknown."""

    per_piece_sold_minor: int | None
    per_piece_taken_minor: int | None
    per_open_hour_minor: int | None
    per_own_hour_minor: int | None


class BreakEven(msgspec.Struct, frozen=True, kw_only=True):
    """What had to be sold to earn the costs, at this event's margin per piece.

    Attributes:
        pieces: Whole pieces, rounded up.
        takings_minor: Takings kept (refunds and what is no earning taken off), rounded up.
        safety_minor: Takings above that; negative when the event did not break even.
        safety_ppm: The same as a share of the takings.
    """

    pieces: int
    takings_minor: int
    safety_minor: int
    safety_ppm: int


class Statement(msgspec.Struct, frozen=True, kw_only=True):
    """Profit and loss. Every amount is a plus amount in minor units except where it says so.

    net sales = takings - not income - refunds - tax
    gross margin = net sales - cost of goods
    net = gross margin - fees - costs + over/short

    Attributes:
        takings_minor: All that customers paid, tips and tax included.
        tips_minor: Tips within the takings.
        not_income_minor: Part of the takings that is no earning.
        refunds_minor: Given back.
        tax_minor: Sales tax within what was kept.
        net_sales_minor: May be negative.
        cost_of_goods: What the pieces sold had cost.
        gross_margin: May be negative.
        fees_minor: Kept by providers, less what they gave back.
        costs: Per kind, the usual kinds first; kinds without a cost are left out.
        costs_minor: Their sum.
        over_short_minor: Of the cash box: plus is over, minus short.
        net: What the event earned; may be negative.
        pieces: Sold and taken.
        open_minutes: Time open; None when some of it is not entered.
        own_minutes: Own time; None when not entered, and for a single day.
        rates: The net per piece and hour.
        pitch_of_takings_ppm: Pitch fee as a share of the takings; None without takings.
        pitch_of_margin_ppm: Pitch fee as a share of the gross margin; None without a margin.
        break_even: None when the pieces sold brought no margin, or none was sold.
    """

    takings_minor: int
    tips_minor: int
    not_income_minor: int
    refunds_minor: int
    tax_minor: int
    net_sales_minor: int
    cost_of_goods: Range
    gross_margin: Range
    fees_minor: int
    costs: tuple[CostTotal, ...]
    costs_minor: int
    over_short_minor: int
    net: Range
    pieces: PieceCount
    open_minutes: int | None
    own_minutes: int | None
    rates: Rates
    pitch_of_takings_ppm: int | None
    pitch_of_margin_ppm: int | None
    break_even: BreakEven | None


def statement(
    entries: Sequence[Entry],
    *,
    tips_minor: int,
    pieces: PieceCount,
    open_minutes: int | None,
    own_minutes: int | None,
) -> Statement:
    """Add up entries to a statement."""
    sums: dict[str, int] = {}
    for entry in entries:
        sums[entry.account] = sums.get(entry.account, 0) + entry.amount_minor
    takings, refunds = sums.get("takings", 0), -sums.get("refunds", 0)
    not_income, tax = -sums.get("not_income", 0), -sums.get("tax", 0)
    net_sales = takings - not_income - refunds - tax
    goods = _range_of(entry for entry in entries if entry.account == "cost_of_goods")
    margin = _plus(goods, net_sales)
    fees, costs = -sums.get("fees", 0), cost_totals(sums)
    costs_minor = sum(cost.amount_minor for cost in costs)
    over_short = sums.get("over_short", 0)
    net = _plus(margin, over_short - fees - costs_minor)
    pitch = -sums.get("pitch_fee", 0)
    return Statement(
        takings_minor=takings,
        tips_minor=tips_minor,
        not_income_minor=not_income,
        refunds_minor=refunds,
        tax_minor=tax,
        net_sales_minor=net_sales,
        cost_of_goods=_negated(goods),
        gross_margin=margin,
        fees_minor=fees,
        costs=costs,
        costs_minor=costs_minor,
        over_short_minor=over_short,
        net=net,
        pieces=pieces,
        open_minutes=open_minutes,
        own_minutes=own_minutes,
        rates=_rates(net.expected_minor, pieces, open_minutes, own_minutes),
        pitch_of_takings_ppm=_share(pitch, takings),
        pitch_of_margin_ppm=_share(pitch, margin.expected_minor),
        break_even=_break_even(
            costs_minor,
            margin.expected_minor - fees,
            takings - not_income - refunds,
            pieces.sold,
        ),
    )


def cost_totals(sums: dict[str, int]) -> tuple[CostTotal, ...]:
    """Pick the kinds of cost out of the sums per account, as plus amounts."""
    kinds = [kind for kind in sums if kind not in NOT_COSTS]
    kinds.sort(key=lambda kind: (COST_ORDER.index(kind) if kind in COST_ORDER else 99, kind))
    return tuple(CostTotal(kind=kind, amount_minor=-sums[kind]) for kind in kinds)


def _range_of(entries: Iterable[Entry]) -> Range:
    expected = low = high = 0
    for entry in entries:
        expected += entry.amount_minor
        low += entry.low_minor
        high += entry.high_minor
    return Range(expected_minor=expected, low_minor=low, high_minor=high)


def _plus(amount: Range, minor: int) -> Range:
    return Range(
        expected_minor=amount.expected_minor + minor,
        low_minor=amount.low_minor + minor,
        high_minor=amount.high_minor + minor,
    )


def _negated(amount: Range) -> Range:
    return Range(
        expected_minor=-amount.expected_minor,
        low_minor=-amount.high_minor,
        high_minor=-amount.low_minor,
    )


def _rates(
    net_minor: int, pieces: PieceCount, open_minutes: int | None, own_minutes: int | None
) -> Rates:
    return Rates(
        per_piece_sold_minor=half_up(net_minor, pieces.sold) if pieces.sold else None,
        per_piece_taken_minor=half_up(net_minor, pieces.taken) if pieces.taken else None,
        per_open_hour_minor=half_up(net_minor * 60, open_minutes) if open_minutes else None,
        per_own_hour_minor=half_up(net_minor * 60, own_minutes) if own_minutes else None,
    )


def _share(part_minor: int, whole_minor: int) -> int | None:
    return half_up(part_minor * MILLION, whole_minor) if whole_minor > 0 else None


def _break_even(
    fixed_minor: int, contribution_minor: int, kept_minor: int, sold: int
) -> BreakEven | None:
    """Reckon with the event's own mix: everything it sold, taken as one."""
    if contribution_minor <= 0 or sold <= 0 or kept_minor <= 0:
        return None
    mixes = pieces_for(kept_minor, kept_minor - contribution_minor, fixed_minor)
    takings = ceil(mixes * kept_minor)
    safety, share = margin_of_safety(kept_minor, Fraction(takings))
    return BreakEven(
        pieces=whole_pieces(mixes * sold),
        takings_minor=takings,
        safety_minor=int(safety),
        safety_ppm=half_up(share.numerator * MILLION, share.denominator),
    )
