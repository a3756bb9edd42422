"""Check that what a provider sent covers what customers paid, and that it arrived."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from uuid import UUID

import msgspec

from stallkeep.domain.matching.payouts import (
    LONGEST_WAIT_DAYS,
    BankLine,
    PaidIn,
    Payout,
    PayoutAnswer,
    match_payouts,
)
from stallkeep.store import payout_facts as store
from stallkeep.store.connection import Connection, Row
from stallkeep.store.shops import Shop
from stallkeep.work.references import need_channel

WAIT = dt.timedelta(days=LONGEST_WAIT_DAYS)


class PayoutCheck(msgspec.Struct, frozen=True, kw_only=True):
    """What is known about a channel's payouts.

    Attributes:
        payouts: One for each of the period, by day: what it covers and what does not add up.
        days: Payout id → its day.
        amounts_minor: Payout id → what was sent.
        uncovered: Payments of the period that no payout covers yet.
        unknown_arrivals: Bank lines of the period that are no payout of any channel.
    """

    payouts: tuple[PayoutAnswer, ...]
    days: dict[str, dt.date]
    amounts_minor: dict[str, int]
    uncovered: tuple[str, ...]
    unknown_arrivals: tuple[str, ...]


async def check_payouts(
    con: Connection,
    shop: Shop,
    channel_id: UUID,
    from_on: dt.date | None = None,
    to_on: dt.date | None = None,
) -> PayoutCheck:
    """Match the payouts of a channel to payments before, and to bank lines after.

    What lies around the period is matched too, so that a payment shortly before it is not taken
    for one of its payouts', and one that is paid out after it is not called uncovered.

    Raises:
        UnknownReferenceError: The shop has no such channel.
    """
    await need_channel(con, shop.shop_id, channel_id)
    before, after = _around(from_on, -WAIT), _around(to_on, WAIT)
    key = (con, shop.shop_id, shop.currency)
    everywhere = await store.payouts(*key, before, after)
    sent = [row for row in everywhere if row["channel_id"] == channel_id]
    paid = await store.paid_in(*key, _around(before, -WAIT), after, channel_id)
    bank = await store.bank_lines(*key, before, _around(after, WAIT))
    answers, uncovered, unknown = match_payouts(
        [_payout(row) for row in sent],
        [_paid_in(row) for row in paid],
        [_bank_line(row) for row in bank],
        [_payout(row) for row in everywhere if row["channel_id"] != channel_id],
    )
    period = (from_on or dt.date.min, to_on or dt.date.max)
    days = {row["payout_id"]: row["occurred_on"] for row in sent}
    return PayoutCheck(
        payouts=tuple(a for a in answers if period[0] <= days[a.payout_id] <= period[1]),
        days=days,
        amounts_minor={row["payout_id"]: row["amount_minor"] for row in sent},
        uncovered=_within(uncovered, paid, period),
        unknown_arrivals=_within(unknown, bank, period),
    )


def _around(day: dt.date | None, wait: dt.timedelta) -> dt.date | None:
    """Move a day, as far as the calendar goes."""
    if day is None:
        return None
    try:
        return day + wait
    except OverflowError:
        return day


def _within(
    ids: Sequence[str], rows: Sequence[Row], period: tuple[dt.date, dt.date]
) -> tuple[str, ...]:
    day = {str(row["id"]): row["occurred_on"] for row in rows}
    return tuple(one for one in ids if period[0] <= day[one] <= period[1])


def _payout(row: Row) -> Payout:
    return Payout(
        payout_id=row["payout_id"],
        amount_minor=row["amount_minor"],
        occurred_on=row["occurred_on"],
    )


def _paid_in(row: Row) -> PaidIn:
    return PaidIn(
        transaction_id=str(row["id"]),
        amount_minor=row["amount_minor"],
        fee_minor=row["fee_minor"],
        occurred_on=row["occurred_on"],
        payout_id=row["payout_id"],
    )


def _bank_line(row: Row) -> BankLine:
    names = (row["reference"], row["external_id"], row["payout_id"])
    return BankLine(
        transaction_id=str(row["id"]),
        amount_minor=row["amount_minor"],
        occurred_on=row["occurred_on"],
        references=tuple(name for name in names if name),
        text=row["note"] or "",
    )
