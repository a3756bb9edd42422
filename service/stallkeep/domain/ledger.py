"""Entries: the one list of amounts from which every figure of a result is added up."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Literal, TypeAlias

import msgspec

from stallkeep.domain.money import apportion

Basis: TypeAlias = Literal["fact", "schedule", "estimate"]


class Entry(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """One line under a figure.

    Attributes:
        account: Figure it belongs to: takings, not_income, refunds, tax, cost_of_goods, fees,
            over_short, or a kind of cost.
        day: Day it counts for; None when the event has no days.
        amount_minor: Effect on the net: plus earns, minus costs.
        low_minor: The effect at worst; equal to the amount for a fact.
        high_minor: The effect at best.
        source_id: Id of the transaction, item or cost, or "pitch_fee" and "cash_box".
        basis: fact (entered, counted, in an export), schedule (worked out from the channel's
            fees) or estimate.
        text: What it is, in a few words.
    """

    account: str
    day: dt.date | None
    amount_minor: int
    low_minor: int
    high_minor: int
    source_id: str
    basis: Basis = "fact"
    text: str = ""


def fact(
    account: str,
    day: dt.date | None,
    amount_minor: int,
    source_id: str,
    text: str,
    *,
    basis: Basis = "fact",
) -> Entry:
    """Make an entry without a range."""
    return Entry(
        account=account,
        day=day,
        amount_minor=amount_minor,
        low_minor=amount_minor,
        high_minor=amount_minor,
        source_id=source_id,
        basis=basis,
        text=text,
    )


def spread(entry: Entry, days: Sequence[dt.date], weights: Sequence[int]) -> list[Entry]:
    """Share a cost over days by largest remainder, the odd cent on the earlier day.

    Without days it stays whole.
    """
    if not days:
        return [entry]
    shares = zip(
        days,
        apportion(-entry.amount_minor, weights),
        apportion(-entry.low_minor, weights),
        apportion(-entry.high_minor, weights),
        strict=True,
    )
    return [
        msgspec.structs.replace(
            entry, day=day, amount_minor=-amount, low_minor=-low, high_minor=-high
        )
        for day, amount, low, high in shares
    ]


def total(entries: Iterable[Entry], account: str) -> int:
    """Add up the amounts of one account."""
    return sum(entry.amount_minor for entry in entries if entry.account == account)
