"""Tax settings that hold from a day on: a change leaves what was before it as it was."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import msgspec

from stallkeep.domain.tax import TaxSettings


class TaxTerms(msgspec.Struct, frozen=True, kw_only=True):
    """How a shop deals with tax from a day on, until the next terms begin.

    Attributes:
        from_on: First day, in the shop's zone; None from the beginning.
        settings: How it deals with sales tax.
        reclaims_tax: True takes the tax within costs off them.
    """

    from_on: dt.date | None = None
    settings: TaxSettings = TaxSettings()
    reclaims_tax: bool = False

    def same_as(self, other: TaxTerms) -> bool:
        """Whether both say the same, the day apart."""
        return (self.settings, self.reclaims_tax) == (other.settings, other.reclaims_tax)


def terms_on(terms: Sequence[TaxTerms], day: dt.date) -> TaxTerms:
    """Find the terms of a day; *terms* begin on rising days, the first without one."""
    return terms[period_of(terms, day)]


def period_of(terms: Sequence[TaxTerms], day: dt.date) -> int:
    """Count the changes up to a day: the place of its terms."""
    return sum(1 for one in terms[1:] if one.from_on is not None and one.from_on <= day)


def with_terms(terms: Sequence[TaxTerms], new: TaxTerms) -> tuple[TaxTerms, ...]:
    """Put in terms that hold from their day to the next day on which others begin.

    Without a day they are the only ones. Terms that say what those before them say are left out.
    """
    if new.from_on is None:
        return (new,)
    begun = [one for one in terms if one.from_on is None or one.from_on < new.from_on]
    later = [one for one in terms if one.from_on is not None and one.from_on > new.from_on]
    kept: list[TaxTerms] = []
    for one in (*begun, new, *later):
        if not kept or not one.same_as(kept[-1]):
            kept.append(one)
    return tuple(kept)
