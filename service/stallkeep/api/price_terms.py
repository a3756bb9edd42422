"""Price rules and price points on the wire: rates in per cent, amounts as decimal strings."""

from __future__ import annotations

from typing import Annotated, Literal
from uuid import UUID

from msgspec import Meta

from stallkeep.api.problems import field_error
from stallkeep.api.schemas import Body, Money, Price, minor
from stallkeep.domain import price_points, prices
from stallkeep.domain.money import to_text

_PPM_OF_PERCENT = 10_000
_LOWEST_PPM = -100 * _PPM_OF_PERCENT

SignedPercent = Annotated[
    str,
    Meta(
        pattern=r"^-?[0-9]{1,3}(\.[0-9]{1,4})?$(?!\n)",
        description="Per cent as a decimal string; minus is lower",
        examples=["-10"],
    ),
]
At = tuple[str | int, ...]


class PricePoints(Body):
    """Prices the shop likes to ask: every multiple of `step`, less `below`.

    With step 5.00 and below 0.01 they are 4.99, 9.99, 14.99.
    """

    step: Price
    below: Price | None = None
    towards: Literal["nearest", "up", "down"] = "nearest"


class PitchRecovery(Body):
    """A pitch fee that the pieces expected to sell have to earn back."""

    pitch_fee: Price
    expected_pieces: Annotated[int, Meta(ge=1, le=1_000_000)]


class PriceRule(Body):
    """How a channel's price follows: start, mark-up, offset, pitch fee, price points, floor.

    It starts at the item's own price, at the price on channel `of`, or at the lowest price that
    leaves what channel `of` leaves. At an event the pitch fee recovered is the event's own.
    """

    starts_at: Literal["base", "price_of", "take_home_of"] = "base"
    of: UUID | None = None
    markup_percent: SignedPercent = "0"
    offset: Money | None = None
    recovers: PitchRecovery | None = None
    points: PricePoints | None = None


def read_points(points: PricePoints, currency: str, at: At = ()) -> price_points.PricePoints:
    """Take what was entered as price points.

    Raises:
        InvalidInputError: An amount has not the decimals of the currency.
        PriceRuleError: The amounts make no points.
    """
    return price_points.PricePoints(
        step_minor=minor(points.step, currency, (*at, "step")),
        below_minor=_or_nothing(points.below, currency, (*at, "below")),
        towards=points.towards,
    )


def show_points(points: price_points.PricePoints, currency: str) -> PricePoints:
    """Show price points as they would be entered."""
    return PricePoints(
        step=to_text(points.step_minor, currency),
        below=to_text(points.below_minor, currency),
        towards=points.towards,
    )


def read_rule(rule: PriceRule, currency: str, at: At = ()) -> prices.PriceRule:
    """Take what was entered as a rule.

    Raises:
        InvalidInputError: A field is missing, or an amount has not the currency's decimals.
        PriceRuleError: The rule contradicts itself.
    """
    if (rule.of is None) != (rule.starts_at == "base"):
        raise field_error("Expected a channel exactly when it starts at another one", (*at, "of"))
    recovers = rule.recovers
    return prices.PriceRule(
        starts_at=rule.starts_at,
        of=None if rule.of is None else str(rule.of),
        markup_ppm=read_percent(rule.markup_percent, (*at, "markup_percent")),
        offset_minor=_or_nothing(rule.offset, currency, (*at, "offset")),
        recovers=None
        if recovers is None
        else prices.PitchRecovery(
            pitch_fee_minor=minor(recovers.pitch_fee, currency, (*at, "recovers", "pitch_fee")),
            expected_pieces=recovers.expected_pieces,
        ),
        points=None if rule.points is None else read_points(rule.points, currency, (*at, "points")),
    )


def show_rule(rule: prices.PriceRule, currency: str) -> PriceRule:
    """Show a rule as it would be entered."""
    recovers = rule.recovers
    return PriceRule(
        starts_at=rule.starts_at,
        of=None if rule.of is None else UUID(rule.of),
        markup_percent=_percent(rule.markup_ppm),
        offset=to_text(rule.offset_minor, currency),
        recovers=None
        if recovers is None
        else PitchRecovery(
            pitch_fee=to_text(recovers.pitch_fee_minor, currency),
            expected_pieces=recovers.expected_pieces,
        ),
        points=None if rule.points is None else show_points(rule.points, currency),
    )


def read_percent(text: str, at: At) -> int:
    """Read a signed per cent as parts per million: "-2.5" is -25,000.

    Raises:
        InvalidInputError: It takes off more than all.
    """
    whole, _, part = text.removeprefix("-").partition(".")
    ppm = int(whole) * _PPM_OF_PERCENT + int((part + "0000")[:4])
    signed = -ppm if text.startswith("-") else ppm
    if signed < _LOWEST_PPM:
        raise field_error("Expected at most 100 per cent taken off", at)
    return signed


def _percent(ppm: int) -> str:
    whole, part = divmod(abs(ppm), _PPM_OF_PERCENT)
    text = f"{whole}.{part:04d}".rstrip("0").rstrip(".")
    return f"-{text}" if ppm < 0 else text


def _or_nothing(text: str | None, currency: str, at: At) -> int:
    return 0 if text is None else minor(text, currency, at)
