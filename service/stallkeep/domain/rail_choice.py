"""What to take: stock ranked for a rail of a given size, each choice explained."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

import msgspec

from stallkeep.domain.money import to_text
from stallkeep.domain.sell_chance import PastPieces, SellChances, kind_of, learn_chances

DAYS_PER_YEAR = 365
FEW_PIECES = 50
LEVELS = ("all pieces", "its category", "its category and price", "pieces like it")


class Candidate(msgspec.Struct, frozen=True, kw_only=True):
    """A piece in stock that could be taken.

    Attributes:
        item_id: Its item.
        category: As in stock.
        price_minor: Price it would have at the event; None when it has none.
        margin_minor: What it would leave there over its cost; None when its cost is not known.
        days_held: Days in stock.
        quantity: Pieces alike in stock, at least 1.
        reserved_until: Last day it is reserved for a sale online; None when it is free.
    """

    item_id: str
    category: str | None
    price_minor: int | None
    margin_minor: int | None
    days_held: int
    quantity: int = 1
    reserved_until: dt.date | None = None


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """A piece to take.

    Attributes:
        item_id: Its item.
        rank: From 1.
        quantity: How many of it.
        chance: That one of it sells at the event.
        expected_minor: chance x margin of one, in minor units, the bonus for age left out.
        sentence: Why.
    """

    item_id: str
    rank: int
    quantity: int
    chance: float
    expected_minor: int
    sentence: str


class LeftOut(msgspec.Struct, frozen=True, kw_only=True):
    """A piece that is not taken, and why."""

    item_id: str
    sentence: str


class RailPlan(msgspec.Struct, frozen=True, kw_only=True):
    """A suggestion for a rail; the seller has the last word.

    Attributes:
        choices: Best first.
        left_out: The rest, in order of their ids.
        expected_pieces: Pieces expected to sell, the sum of the chances.
        expected_minor: What they leave over their cost.
        limits: How little the ranking rests on, where that is so.
    """

    choices: tuple[Choice, ...]
    left_out: tuple[LeftOut, ...]
    expected_pieces: float
    expected_minor: int
    limits: tuple[str, ...]


def choose_rail(
    candidates: Iterable[Candidate],
    history: Sequence[PastPieces],
    *,
    size: int,
    on: dt.date,
    currency: str,
    band_starts_minor: Sequence[int],
    include_reserved: bool = False,
    held_bonus_ppm: int = 200_000,
) -> RailPlan:
    """Rank stock for a rail.

    A piece scores its chance times its margin, plus a bonus of *held_bonus_ppm* of that for every
    year it has been held, because money tied up is worth having back. A piece without a known
    cost is scored on its price. Equal scores stand in order of their ids.

    Args:
        candidates: Stock.
        history: What was taken to earlier events and sold.
        size: Pieces the rail holds.
        on: First day of the event; a piece reserved until then or later is left out.
        currency: Of all amounts.
        band_starts_minor: Rising starts of the price bands after the first.
        include_reserved: Whether to take reserved pieces as well.
        held_bonus_ppm: Bonus per year held.
    """
    chances = learn_chances(history)
    scored, left_out = [], []
    for candidate in candidates:
        if reason := _why_not(candidate, on, include_reserved=include_reserved):
            left_out.append(LeftOut(item_id=candidate.item_id, sentence=reason))
            continue
        scored.append(_scored(candidate, chances, currency, band_starts_minor, held_bonus_ppm))
    scored.sort(key=lambda pair: (-pair[0], pair[1].item_id))
    choices, room = [], size
    for rank, (_, choice) in enumerate(scored, 1):
        quantity = min(choice.quantity, room)
        if quantity == 0:
            left_out.append(
                LeftOut(
                    item_id=choice.item_id,
                    sentence=f"The rail is full; it stands at number {rank}.",
                )
            )
            continue
        room -= quantity
        choices.append(msgspec.structs.replace(choice, rank=rank, quantity=quantity))
    return RailPlan(
        choices=tuple(choices),
        left_out=tuple(sorted(left_out, key=lambda piece: piece.item_id)),
        expected_pieces=sum(choice.chance * choice.quantity for choice in choices),
        expected_minor=sum(choice.expected_minor * choice.quantity for choice in choices),
        limits=_limits(chances),
    )


def _why_not(candidate: Candidate, on: dt.date, *, include_reserved: bool) -> str | None:
    if candidate.price_minor is None:
        return "It has no price."
    until = candidate.reserved_until
    if until is not None and until >= on and not include_reserved:
        return f"It is reserved until {until} for a sale online."
    return None


def _scored(
    candidate: Candidate,
    chances: SellChances,
    currency: str,
    band_starts_minor: Sequence[int],
    held_bonus_ppm: int,
) -> tuple[float, Choice]:
    price = candidate.price_minor or 0
    kind = kind_of(candidate.category, price, candidate.days_held, band_starts_minor)
    level, tally = chances.narrowest(kind)
    margin = price if candidate.margin_minor is None else candidate.margin_minor
    expected = tally.chance * margin
    bonus = held_bonus_ppm / 1_000_000 * candidate.days_held / DAYS_PER_YEAR
    score = expected * (1 + bonus) if expected > 0 else expected
    what = "price (its cost is not known)" if candidate.margin_minor is None else "margin"
    choice = Choice(
        item_id=candidate.item_id,
        rank=0,
        quantity=candidate.quantity,
        chance=tally.chance,
        expected_minor=round(expected),
        sentence=(
            f"Of {LEVELS[level]} {tally.sold} of {tally.taken} taken were sold, which makes a "
            f"chance of {tally.chance:.0%}; {what} {to_text(margin, currency)}; held "
            f"{candidate.days_held} days."
        ),
    )
    return score, choice


def _limits(chances: SellChances) -> tuple[str, ...]:
    taken = chances.tallies[()].taken
    if taken >= FEW_PIECES:
        return ()
    return (f"Only {taken} pieces were taken to earlier events, so the chances are rough.",)
