"""An event beside the shop's other events, per day and like for like."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from fractions import Fraction

import msgspec

from stallkeep.domain.money import half_up, to_text

LIKE_ENOUGH = 2


class EventLine(msgspec.Struct, frozen=True, kw_only=True):
    """An event's figures, as its result gives them.

    Attributes:
        id: Its id.
        name: Its name.
        kind: Kind of market; None when not entered.
        starts_on: First day.
        days: At least 1.
        net_minor: Expected net.
        takings_minor: All takings.
        pieces_sold: Pieces.
        pieces_taken: Pieces on the rail.
        open_minutes: Time open; None when not entered.
    """

    id: str
    name: str
    kind: str | None
    starts_on: dt.date
    days: int
    net_minor: int
    takings_minor: int
    pieces_sold: int
    pieces_taken: int
    open_minutes: int | None = None


class PerDay(msgspec.Struct, frozen=True, kw_only=True):
    """An event's figures per day, in minor units half up; pieces in tenths.

    Attributes:
        event_id: The event.
        name: Its name.
        net_minor: Net per day.
        takings_minor: Takings per day.
        pieces_tenths: Pieces sold per day, in tenths of a piece.
        net_per_hour_minor: Net per hour open; None when not entered.
    """

    event_id: str
    name: str
    net_minor: int
    takings_minor: int
    pieces_tenths: int
    net_per_hour_minor: int | None


class EventComparison(msgspec.Struct, frozen=True, kw_only=True):
    """This event among the others.

    Attributes:
        this: Per day.
        others: Per day, best net first.
        average_net_minor: Of the others per day, each day counting alike; None without others.
        rank: 1 for the best net per day of them all.
        like_for_like: True when only events of the same kind were compared.
        sentence: In words.
    """

    this: PerDay
    others: tuple[PerDay, ...]
    average_net_minor: int | None
    rank: int
    like_for_like: bool
    sentence: str


def compare_events(this: EventLine, others: Sequence[EventLine], currency: str) -> EventComparison:
    """Set an event beside others per day.

    With at least two others of the same kind only those are compared, like for like. Equal nets
    stand by date, then id.
    """
    alike = [event for event in others if this.kind is not None and event.kind == this.kind]
    like_for_like = len(alike) >= LIKE_ENOUGH
    chosen = sorted(
        alike if like_for_like else others,
        key=lambda e: (-Fraction(e.net_minor, e.days), e.starts_on, e.id),
    )
    mine = Fraction(this.net_minor, this.days)
    rank = 1 + sum(Fraction(event.net_minor, event.days) > mine for event in chosen)
    days = sum(event.days for event in chosen)
    average = half_up(sum(event.net_minor for event in chosen), days) if days else None
    per_day = _per_day(this)
    return EventComparison(
        this=per_day,
        others=tuple(_per_day(event) for event in chosen),
        average_net_minor=average,
        rank=rank,
        like_for_like=like_for_like,
        sentence=_rank_sentence(per_day.net_minor, average, rank, len(chosen), currency),
    )


def _per_day(event: EventLine) -> PerDay:
    minutes = event.open_minutes
    return PerDay(
        event_id=event.id,
        name=event.name,
        net_minor=half_up(event.net_minor, event.days),
        takings_minor=half_up(event.takings_minor, event.days),
        pieces_tenths=half_up(event.pieces_sold * 10, event.days),
        net_per_hour_minor=half_up(event.net_minor * 60, minutes) if minutes else None,
    )


def _rank_sentence(
    net_minor: int, average_minor: int | None, rank: int, others: int, currency: str
) -> str:
    net = to_text(net_minor, currency)
    if average_minor is None:
        return f"This event earned {net} per day; there is no other to compare it with."
    difference = net_minor - average_minor
    words = f"{to_text(abs(difference), currency)} {'more' if difference >= 0 else 'less'}"
    return (
        f"This event earned {net} per day, {words} than the average of {others} "
        f"{'other' if others == 1 else 'others'}: number {rank} of {others + 1}."
    )
