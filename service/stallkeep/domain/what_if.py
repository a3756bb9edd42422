"""What if: other prices, a bigger pitch, one more day, fewer helpers.

All of it is arithmetic on one event's figures. Tax and fees are taken to move with the takings,
cost of goods with the pieces, and everything else to stay. What customers would really do is not
known; so each answer says how many pieces make it come out even.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

import msgspec

from stallkeep.domain.errors import NeverBreaksEvenError
from stallkeep.domain.money import half_up, to_text
from stallkeep.domain.statement import Statement

MILLION = 1_000_000


class Basis(msgspec.Struct, frozen=True, kw_only=True):
    """The figures of an event that a question starts from, in minor units.

    Attributes:
        currency: ISO 4217 code.
        takings_minor: Kept: refunds and what is no earning taken off.
        tax_minor: Sales tax within them.
        fees_minor: Kept by providers.
        goods_minor: Cost of the pieces sold.
        fixed_minor: All costs of the event.
        pieces: Pieces sold, at least 1.
        days: Days of the event, at least 1.
    """

    currency: str
    takings_minor: int
    tax_minor: int
    fees_minor: int
    goods_minor: int
    fixed_minor: int
    pieces: int
    days: int

    @property
    def net_minor(self) -> int:
        """Takings - tax - fees - goods - fixed; the cash box's over/short left out."""
        variable = self.tax_minor + self.fees_minor + self.goods_minor
        return self.takings_minor - variable - self.fixed_minor


class WhatIf(msgspec.Struct, frozen=True, kw_only=True):
    """The answer to one question.

    Attributes:
        question: In words.
        net_minor: The net, at the pieces assumed.
        change_minor: Against the event as it was.
        pieces: Pieces assumed to be sold.
        pieces_for_same_net: Whole pieces that give at least the net of the event as it was;
            None when no number does.
        sales_change_ppm: Change in pieces that gives exactly that net, as a share of the pieces
            as they were; None when no number does.
        sentence: The answer in words.
    """

    question: str
    net_minor: int
    change_minor: int
    pieces: int
    pieces_for_same_net: int | None
    sales_change_ppm: int | None
    sentence: str


def basis_of(statement: Statement, currency: str, days: int) -> Basis:
    """Take the figures of an event's statement.

    Raises:
        NeverBreaksEvenError: Nothing was sold, so there is nothing to reckon with.
    """
    if statement.pieces.sold < 1:
        raise NeverBreaksEvenError("nothing was sold, so a change cannot be reckoned")
    return Basis(
        currency=currency,
        takings_minor=(
            statement.takings_minor - statement.not_income_minor - statement.refunds_minor
        ),
        tax_minor=statement.tax_minor,
        fees_minor=statement.fees_minor,
        goods_minor=statement.cost_of_goods.expected_minor,
        fixed_minor=statement.costs_minor,
        pieces=statement.pieces.sold,
        days=max(days, 1),
    )


def other_prices(basis: Basis, *, offset_minor: int = 0, share_ppm: int = 0) -> WhatIf:
    """Ask for other prices: each piece changed by a share, then by an amount (minus: lower)."""
    takings = basis.takings_minor * Fraction(MILLION + share_ppm, MILLION)
    takings += basis.pieces * offset_minor
    net = _rounded(_contribution(basis, takings) - basis.fixed_minor)
    step = _price_words(basis, offset_minor, share_ppm)
    same, change = _same_net(basis, _contribution(basis, takings) / basis.pieces, basis.fixed_minor)
    if same is None:
        answer = "no number of pieces makes up for it"
    else:
        answer = f"{_pieces(same)} instead of {basis.pieces} earn the same"
    return WhatIf(
        question=f"every price {step}",
        net_minor=net,
        change_minor=net - basis.net_minor,
        pieces=basis.pieces,
        pieces_for_same_net=same,
        sales_change_ppm=change,
        sentence=(
            f"With every price {step} and as many pieces the net is "
            f"{to_text(net, basis.currency)}; {answer}."
        ),
    )


def other_pitch(basis: Basis, fee_change_minor: int) -> WhatIf:
    """Ask for another pitch, dearer (plus) or cheaper (minus) for the whole event."""
    same, change = _same_net(basis, _per_piece(basis), basis.fixed_minor + fee_change_minor)
    net = basis.net_minor - fee_change_minor
    fee = to_text(abs(fee_change_minor), basis.currency)
    words = f"a pitch that costs {fee} {'more' if fee_change_minor >= 0 else 'less'}"
    if same is None:
        answer = "no number of pieces pays for it"
    elif same > basis.pieces:
        answer = f"it takes {_pieces(same - basis.pieces)} more to earn the same"
    else:
        answer = f"{_pieces(basis.pieces - same)} fewer still earn the same"
    return WhatIf(
        question=words,
        net_minor=net,
        change_minor=net - basis.net_minor,
        pieces=basis.pieces,
        pieces_for_same_net=same,
        sales_change_ppm=change,
        sentence=f"With {words}, {answer}.",
    )


def one_more_day(basis: Basis, day_cost_minor: int) -> WhatIf:
    """Ask for one more day as good as the average one.

    Args:
        basis: The event.
        day_cost_minor: What the day would cost: pitch, helpers, food, a night.
    """
    per_piece, per_day = _per_piece(basis), Fraction(basis.pieces, basis.days)
    gain = _rounded(per_piece * per_day - day_cost_minor)
    same, change = _same_net(basis, per_piece, basis.fixed_minor + day_cost_minor)
    cost = to_text(day_cost_minor, basis.currency)
    answer = (
        "no number of pieces pays for it"
        if same is None
        else f"it pays from {_pieces(max(0, same - basis.pieces))} on"
    )
    return WhatIf(
        question=f"one more day for {cost}",
        net_minor=basis.net_minor + gain,
        change_minor=gain,
        pieces=basis.pieces + round(per_day),
        pieces_for_same_net=same,
        sales_change_ppm=change,
        sentence=(
            f"One more day for {cost} changes the net by {to_text(gain, basis.currency)} if it is "
            f"as good as the others; {answer}."
        ),
    )


def fewer_helpers(basis: Basis, saved_minor: int) -> WhatIf:
    """Ask to save on helpers' pay (a plus amount)."""
    per_piece = _per_piece(basis)
    same, change = _same_net(basis, per_piece, basis.fixed_minor - saved_minor)
    lost = floor(saved_minor / per_piece) if per_piece > 0 else None
    saved = to_text(saved_minor, basis.currency)
    answer = (
        "every piece sold loses money anyway"
        if lost is None
        else f"it is worth it unless more than {_pieces(lost)} go unsold for it"
    )
    return WhatIf(
        question=f"{saved} less for helpers",
        net_minor=basis.net_minor + saved_minor,
        change_minor=saved_minor,
        pieces=basis.pieces,
        pieces_for_same_net=same,
        sales_change_ppm=change,
        sentence=f"With {saved} less for helpers, {answer}.",
    )


def _contribution(basis: Basis, takings: Fraction) -> Fraction:
    """What some takings leave at the same number of pieces, before fixed costs."""
    if basis.takings_minor <= 0:
        return takings - basis.tax_minor - basis.fees_minor - basis.goods_minor
    off = Fraction(basis.tax_minor + basis.fees_minor, basis.takings_minor)
    return takings * (1 - off) - basis.goods_minor


def _per_piece(basis: Basis) -> Fraction:
    return _contribution(basis, Fraction(basis.takings_minor)) / basis.pieces


def _same_net(basis: Basis, per_piece: Fraction, fixed_minor: int) -> tuple[int | None, int | None]:
    """Pieces that give the old net: whole, and as an exact share of change."""
    if per_piece <= 0:
        return None, None
    pieces = (basis.net_minor + fixed_minor) / per_piece
    change = (pieces / basis.pieces - 1) * MILLION
    return max(0, ceil(pieces)), half_up(change.numerator, change.denominator)


def _price_words(basis: Basis, offset_minor: int, share_ppm: int) -> str:
    words = []
    if share_ppm:
        words.append(f"{abs(share_ppm) / 10_000:g} % {'higher' if share_ppm > 0 else 'lower'}")
    if offset_minor:
        amount = to_text(abs(offset_minor), basis.currency)
        words.append(f"{amount} {'higher' if offset_minor > 0 else 'lower'}")
    return " and ".join(words) or "as it was"


def _pieces(count: int) -> str:
    return "1 piece" if count == 1 else f"{count} pieces"


def _rounded(amount: Fraction) -> int:
    return half_up(amount.numerator, amount.denominator)
