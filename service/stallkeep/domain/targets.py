"""What it takes to earn a wanted net, and how much the net hangs on the takings.

Both are arithmetic on one event's figures, with its own mix of pieces and prices. Source of the
formulas: cost-volume-profit analysis as in OpenStax, Principles of Accounting, volume 2, chapter 3.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil

import msgspec

from stallkeep.domain.break_even import (
    before_tax,
    operating_leverage,
    pieces_for,
    whole_pieces,
)
from stallkeep.domain.errors import NeverBreaksEvenError
from stallkeep.domain.money import half_up, to_text
from stallkeep.domain.what_if import MILLION, Basis

TENTH = 10


class Target(msgspec.Struct, frozen=True, kw_only=True):
    """What it takes to earn a wanted net.

    Attributes:
        wanted_minor: The net wanted, after income tax.
        before_tax_minor: What the event must earn for that, rounded up.
        pieces: Whole pieces to sell; None when no number is enough.
        more_pieces: The same against the pieces sold; minus for fewer.
        takings_minor: Takings kept (refunds and what is no earning taken off), rounded up; None
            when no amount is enough.
        sentence: The answer in words.
    """

    wanted_minor: int
    before_tax_minor: int
    pieces: int | None
    more_pieces: int | None
    takings_minor: int | None
    sentence: str


class Leverage(msgspec.Struct, frozen=True, kw_only=True):
    """How much the net hangs on the takings, costs of the event staying as they are.

    Attributes:
        factor_ppm: Per cent by which the net moves when takings move by one (operating leverage);
            None when there was no net to move.
        tenth_lower_net_minor: The net with a tenth less in takings.
        change_minor: Against the event as it was; a minus.
        sentence: The answer in words.
    """

    factor_ppm: int | None
    tenth_lower_net_minor: int
    change_minor: int
    sentence: str


def target(basis: Basis, wanted_minor: int, income_tax_ppm: int = 0) -> Target:
    """Tell how many pieces, and what takings, earn a wanted net.

    Args:
        basis: The event.
        wanted_minor: Net wanted after income tax.
        income_tax_ppm: Income tax on it, below one million; a loss bears none.
    """
    needed = ceil(before_tax(wanted_minor, income_tax_ppm)) if wanted_minor > 0 else wanted_minor
    words = _wanted_words(basis, wanted_minor, needed)
    try:
        mixes = _mixes(basis, needed)
    except NeverBreaksEvenError:
        return Target(
            wanted_minor=wanted_minor,
            before_tax_minor=needed,
            pieces=None,
            more_pieces=None,
            takings_minor=None,
            sentence=f"{words}, no number of pieces is enough: each one loses money.",
        )
    pieces = whole_pieces(mixes * basis.pieces)
    takings = max(0, ceil(mixes * basis.takings_minor))
    return Target(
        wanted_minor=wanted_minor,
        before_tax_minor=needed,
        pieces=pieces,
        more_pieces=pieces - basis.pieces,
        takings_minor=takings,
        sentence=(
            f"{words}, {_count(pieces)} must be sold, {_against(pieces, basis.pieces)}: takings of "
            f"{to_text(takings, basis.currency)} at this event's prices and costs."
        ),
    )


def leverage(basis: Basis) -> Leverage:
    """Tell what takings a tenth lower would do to the net."""
    contribution, net = basis.net_minor + basis.fixed_minor, basis.net_minor
    change = half_up(-contribution, TENTH)
    lower = net + change
    try:
        exact = operating_leverage(contribution, net)
        factor = half_up(exact.numerator * MILLION, exact.denominator)
        last = f"each per cent of takings moves the net by {_factor(exact)} per cent"
    except NeverBreaksEvenError:
        factor, last = None, "it did not earn its costs as it was"
    was, now = to_text(net, basis.currency), to_text(lower, basis.currency)
    return Leverage(
        factor_ppm=factor,
        tenth_lower_net_minor=lower,
        change_minor=change,
        sentence=(
            f"Had takings been a tenth lower, the net would have been {now} instead of {was}, for "
            f"the costs of the event stay: {last}."
        ),
    )


def _mixes(basis: Basis, needed_minor: int) -> Fraction:
    """Tell how many times all that was sold, as one, earns the costs and what is needed."""
    contribution = basis.net_minor + basis.fixed_minor
    kept = basis.takings_minor
    return pieces_for(kept, kept - contribution, basis.fixed_minor, needed_minor)


def _wanted_words(basis: Basis, wanted_minor: int, needed_minor: int) -> str:
    wanted = to_text(wanted_minor, basis.currency)
    if needed_minor == wanted_minor:
        return f"To earn a net of {wanted}"
    needed = to_text(needed_minor, basis.currency)
    return f"To keep {wanted} after income tax, a net of {needed}"


def _count(pieces: int) -> str:
    return "1 piece" if pieces == 1 else f"{pieces} pieces"


def _against(pieces: int, sold: int) -> str:
    if pieces == sold:
        return "as many as were"
    return f"{abs(pieces - sold)} {'more' if pieces > sold else 'fewer'} than were"


def _factor(exact: Fraction) -> str:
    tenths = half_up(exact.numerator * 10, exact.denominator)
    return f"{tenths // 10}.{tenths % 10}"
