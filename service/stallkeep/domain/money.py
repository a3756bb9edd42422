"""Money as text and as integers of minor units, rounding, and splitting to the cent."""

from __future__ import annotations

import re
from collections.abc import Sequence

from stallkeep.domain.currencies import minor_units
from stallkeep.domain.errors import MoneyTextError, UnsplittableAmountError

__all__ = ["apportion", "from_text", "half_even", "half_up", "minor_units", "to_text"]

MAXIMUM_MINOR = 10**15
"""Amounts beyond this are refused as text: they fit a bigint and no small shop."""

_AMOUNT = re.compile(r"(-?)(0|[1-9][0-9]{0,15})(?:\.([0-9]{1,4}))?")


def to_text(minor: int, currency: str) -> str:
    """Write an amount as a decimal string with all its decimals: 1250 of EUR is "12.50".

    Raises:
        UnknownCurrencyError: *currency* is no ISO 4217 code in use.
    """
    digits = minor_units(currency)
    sign = "-" if minor < 0 else ""
    if digits == 0:
        return f"{sign}{abs(minor)}"
    whole, part = divmod(abs(minor), 10**digits)
    return f"{sign}{whole}.{part:0{digits}d}"


def from_text(text: str, currency: str) -> int:
    """Read exactly what `to_text` writes: "12.50" of EUR is 1250.

    No blanks, no plus sign, no thousands separator, no leading zeros, "-0.00" is not an amount,
    and all decimals of the currency must be there.

    Raises:
        UnknownCurrencyError: *currency* is no ISO 4217 code in use.
        MoneyTextError: *text* is not such an amount, or beyond `MAXIMUM_MINOR`.
    """
    digits = minor_units(currency)
    match = _AMOUNT.fullmatch(text)
    if match is None or len(match[3] or "") != digits:
        raise _unreadable(text, currency)
    minor = int(match[2] + (match[3] or ""))
    if minor > MAXIMUM_MINOR or (minor == 0 and match[1]):
        raise _unreadable(text, currency)
    return -minor if match[1] else minor


def _unreadable(text: str, currency: str) -> MoneyTextError:
    example = to_text(1250, currency)
    return MoneyTextError(
        f"{text[:40]!r} is not an amount in {currency}; write it like {example!r}",
        value=text[:40],
        currency=currency,
    )


def half_up(numerator: int, denominator: int) -> int:
    """Round *numerator* / *denominator* to a whole number; halves go away from zero.

    The denominator must be above 0.
    """
    whole = (2 * abs(numerator) + denominator) // (2 * denominator)
    return -whole if numerator < 0 else whole


def half_even(numerator: int, denominator: int) -> int:
    """Round *numerator* / *denominator* to a whole number; halves go to the even neighbour.

    The denominator must be above 0.
    """
    whole, rest = divmod(numerator, denominator)
    return whole + (2 * rest > denominator or (2 * rest == denominator and whole % 2 == 1))


def apportion(total_minor: int, weights: Sequence[int]) -> list[int]:
    """Split one amount over several lines so that the parts sum to the whole.

    Used to share a fee among payments, a bundle's price among its items and the costs of a whole
    event among its days.

    Args:
        total_minor: Amount to split, in minor units; may be negative.
        weights: n >= 1 integers, none negative, not all zero.

    Returns:
        n amounts in minor units, in the order of *weights*, summing to *total_minor*; each less
        than one minor unit away from its exact share. A weight of zero gets zero.

    Raises:
        UnsplittableAmountError: *weights* is empty, all zero or has a negative entry.

    Source:
        Largest-remainder method (Hamilton, 1792). Equal remainders go to the earlier line. Not
        monotone: a larger total can make one part smaller.
    """
    whole = sum(weights)
    if whole == 0 or min(weights) < 0:
        raise UnsplittableAmountError(f"cannot split {total_minor} by {list(weights)}")
    parts = [total_minor * weight // whole for weight in weights]
    by_remainder = sorted(range(len(weights)), key=lambda i: -(total_minor * weights[i] % whole))
    for i in by_remainder[: total_minor - sum(parts)]:
        parts[i] += 1
    return parts
