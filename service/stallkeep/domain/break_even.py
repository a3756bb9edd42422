"""Break-even, target profit and margin of safety, for one kind of piece or a mix of them.

Prices and costs are in minor units. Quantities come back exact, as fractions; whole pieces are
for the caller to round up (`whole_pieces`), because rounding on the way changes results.

Source of the formulas: cost-volume-profit analysis as in OpenStax, Principles of Accounting,
volume 2, chapter 3.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

import msgspec

from stallkeep.domain.errors import NeverBreaksEvenError


class Product(msgspec.Struct, frozen=True, kw_only=True):
    """One kind of piece in a mix.

    Attributes:
        share: How many of it go into one mix; above 0.
        price_minor: Price of one.
        variable_minor: All that one costs only when it is sold.
    """

    share: int
    price_minor: int
    variable_minor: int


def pieces_for(
    price_minor: int, variable_minor: int, fixed_minor: int, target_minor: int = 0
) -> Fraction:
    """Tell how many pieces earn the fixed costs and a target profit before tax.

    Raises:
        NeverBreaksEvenError: A piece brings no more than it costs.
    """
    margin = price_minor - variable_minor
    if margin <= 0:
        raise NeverBreaksEvenError("a piece brings no more than it costs")
    return Fraction(fixed_minor + target_minor, margin)


def sales_for(
    price_minor: int, variable_minor: int, fixed_minor: int, target_minor: int = 0
) -> Fraction:
    """Tell what sales, in minor units, earn the fixed costs and a target profit before tax.

    Raises:
        NeverBreaksEvenError: A piece brings no more than it costs.
    """
    return pieces_for(price_minor, variable_minor, fixed_minor, target_minor) * price_minor


def before_tax(target_minor: int, tax_ppm: int) -> Fraction:
    """Tell the profit before tax that leaves a target after it; the rate is below one million."""
    return Fraction(target_minor * 1_000_000, 1_000_000 - tax_ppm)


def profit(price_minor: int, variable_minor: int, fixed_minor: int, pieces: int) -> int:
    """Profit before tax at a number of pieces."""
    return (price_minor - variable_minor) * pieces - fixed_minor


def mixes_for(products: Sequence[Product], fixed_minor: int, target_minor: int = 0) -> Fraction:
    """Tell how many mixes earn the fixed costs and a target profit.

    One mix holds each product *share* times; multiply by it for pieces of that product.

    Raises:
        NeverBreaksEvenError: A mix brings no more than it costs.
    """
    price = sum(p.share * p.price_minor for p in products)
    variable = sum(p.share * p.variable_minor for p in products)
    return pieces_for(price, variable, fixed_minor, target_minor)


def margin_of_safety(sales_minor: int, break_even_minor: Fraction) -> tuple[Fraction, Fraction]:
    """Tell how far sales may fall before nothing is earned.

    Returns:
        In minor units, and as a share of the sales (0 when there are none).
    """
    safety = sales_minor - break_even_minor
    return safety, safety / sales_minor if sales_minor else Fraction(0)


def operating_leverage(contribution_minor: int, profit_minor: int) -> Fraction:
    """Tell by how many per cent the profit moves when sales move by one per cent.

    Raises:
        NeverBreaksEvenError: There is no profit to move.
    """
    if profit_minor <= 0:
        raise NeverBreaksEvenError("there is no profit")
    return Fraction(contribution_minor, profit_minor)


def whole_pieces(pieces: Fraction) -> int:
    """Round pieces up to whole ones, never below 0."""
    return max(0, ceil(pieces))
