"""ISO 4217 currencies and their minor units, from the one table that importers read too."""

from __future__ import annotations

from stallkeep.domain.errors import UnknownCurrencyError
from stallkeep_importers.currencies import minor_units as table_of_minor_units

MINOR_UNITS: dict[str, int] = dict(table_of_minor_units())


def minor_units(currency: str) -> int:
    """Tell how many decimals amounts of *currency* have: 2 for EUR, 0 for JPY, 3 for KWD.

    Raises:
        UnknownCurrencyError: *currency* is no upper-case ISO 4217 code in use.
    """
    try:
        return MINOR_UNITS[currency]
    except KeyError:
        raise UnknownCurrencyError(
            f"{currency[:20]!r} is not a currency code; use three capital letters such as EUR",
            currency=currency[:20],
        ) from None
