"""Fee schedules on the wire: rates in per cent, amounts as decimal strings."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta, field

from stallkeep.api.schemas import Body, Price, Word, minor
from stallkeep.domain import fees
from stallkeep.domain.money import to_text

_PPM_OF_PERCENT = 10_000

Percent = Annotated[
    str,
    Meta(
        pattern=r"^[0-9]{1,3}(\.[0-9]{1,4})?$(?!\n)",
        description="Per cent as a decimal string",
        examples=["2.75"],
    ),
]
At = tuple[str | int, ...]


class FeeTier(Body):
    """A rate that begins at an amount above 0."""

    starts_at: Price
    percent: Percent


class FeePart(Body):
    """One fee: percent of the base + fixed, at least the minimum, at most the maximum."""

    name: Word
    kind: Literal["channel", "payment"] = "channel"
    base: Literal["price", "total"] = "price"
    percent: Percent = "0"
    tiers: Annotated[list[FeeTier], Meta(max_length=20)] = field(default_factory=list)
    tiers_apply_to: Literal["slice", "whole"] = "slice"
    fixed: Price | None = None
    minimum: Price | None = None
    maximum: Price | None = None


class Postage(Body):
    """Who pays for sending, and how much."""

    payer: Literal["none", "buyer", "seller"] = "none"
    cost: Price | None = None


class FeeTerms(Body):
    """All that a channel charges for a sale."""

    parts: Annotated[list[FeePart], Meta(max_length=20)] = field(default_factory=list)
    postage: Postage | None = None
    tax_on_fees_percent: Percent = "0"
    returned_on_refund: bool = False


def read_terms(terms: FeeTerms, currency: str) -> fees.FeeSchedule:
    """Take what was entered as a schedule.

    Raises:
        InvalidInputError: An amount has not the decimals of the currency.
        FeeScheduleError: The schedule contradicts itself.
    """
    postage = terms.postage or Postage()
    return fees.FeeSchedule(
        parts=tuple(
            _read_part(part, currency, ("parts", place)) for place, part in enumerate(terms.parts)
        ),
        postage=fees.Postage(
            payer=postage.payer,
            cost_minor=_or_none(postage.cost, currency, ("postage", "cost")) or 0,
        ),
        tax_on_fees_ppm=ppm_of(terms.tax_on_fees_percent),
        returned_on_refund=terms.returned_on_refund,
    )


def _read_part(part: FeePart, currency: str, at: At) -> fees.FeePart:
    tiers = tuple(
        fees.Tier(
            from_minor=minor(tier.starts_at, currency, (*at, "tiers", place, "starts_at")),
            rate_ppm=ppm_of(tier.percent),
        )
        for place, tier in enumerate(part.tiers)
    )
    return fees.FeePart(
        name=part.name,
        kind=part.kind,
        base=part.base,
        rate_ppm=ppm_of(part.percent),
        tiers=tiers,
        tiers_apply_to=part.tiers_apply_to,
        fixed_minor=_or_none(part.fixed, currency, (*at, "fixed")) or 0,
        minimum_minor=_or_none(part.minimum, currency, (*at, "minimum")),
        maximum_minor=_or_none(part.maximum, currency, (*at, "maximum")),
    )


def show_terms(schedule: fees.FeeSchedule, currency: str) -> FeeTerms:
    """Show a schedule as it would be entered."""
    return FeeTerms(
        parts=[_show_part(part, currency) for part in schedule.parts],
        postage=Postage(
            payer=schedule.postage.payer, cost=to_text(schedule.postage.cost_minor, currency)
        ),
        tax_on_fees_percent=percent_of(schedule.tax_on_fees_ppm),
        returned_on_refund=schedule.returned_on_refund,
    )


def _show_part(part: fees.FeePart, currency: str) -> FeePart:
    return FeePart(
        name=part.name,
        kind=part.kind,
        base=part.base,
        percent=percent_of(part.rate_ppm),
        tiers=[
            FeeTier(starts_at=to_text(t.from_minor, currency), percent=percent_of(t.rate_ppm))
            for t in part.tiers
        ],
        tiers_apply_to=part.tiers_apply_to,
        fixed=to_text(part.fixed_minor, currency),
        minimum=_text_or_none(part.minimum_minor, currency),
        maximum=_text_or_none(part.maximum_minor, currency),
    )


def ppm_of(percent: str) -> int:
    """Read per cent as parts per million."""
    whole, _, part = percent.partition(".")
    return int(whole) * _PPM_OF_PERCENT + int((part + "0000")[:4])


def percent_of(ppm: int) -> str:
    """Write parts per million as per cent."""
    whole, part = divmod(ppm, _PPM_OF_PERCENT)
    return f"{whole}.{part:04d}".rstrip("0").rstrip(".")


def _or_none(text: str | None, currency: str, at: At) -> int | None:
    return None if text is None else minor(text, currency, at)


def _text_or_none(amount: int | None, currency: str) -> str | None:
    return None if amount is None else to_text(amount, currency)
