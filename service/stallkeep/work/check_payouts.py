"""Check that what a provider sent covers what customers paid, and that it arrived."""

from __future__ import annotations

import datetime as dt
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
from stallkeep.store.connection import Connection
from stallkeep.store.shops import Shop
from stallkeep.work.references import need_channel

WAIT = dt.timedelta(days=LONGEST_WAIT_DAYS)


class PayoutCheck(msgspec.Struct, frozen=True, kw_only=True):
    """What is known about a channel's payouts.

    Attributes:
        payouts: One for each, by day: what it covers and what does not add up.
        days: Payout id → its day.
        amounts_minor: Payout id → what was sent.
        uncovered: Payments that no payout covers yet.
        unknown_arrivals: Bank lines that are no payout.
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
    """Match the payouts of a channel and period to payments before, and to bank lines after.

    Raises:
        UnknownReferenceError: The shop has no such channel.
    """
    await need_channel(con, shop.shop_id, channel_id)
    earliest = None if from_on is None else from_on - WAIT
    latest = None if to_on is None else to_on + WAIT
    key = (con, shop.shop_id, channel_id)
    sent = await store.payouts(*key, from_on, to_on, shop.currency)
    paid = await store.paid_in(*key, earliest, to_on, shop.currency)
    bank = await store.bank_lines(con, shop.shop_id, from_on, latest, shop.currency)
    answers, uncovered, unknown = match_payouts(
        [
            Payout(
                payout_id=row["payout_id"],
                amount_minor=row["amount_minor"],
                occurred_on=row["occurred_on"],
            )
            for row in sent
        ],
        [
            PaidIn(
                transaction_id=str(row["id"]),
                amount_minor=row["amount_minor"],
                fee_minor=row["fee_minor"],
                occurred_on=row["occurred_on"],
                payout_id=row["payout_id"],
            )
            for row in paid
        ],
        [
            BankLine(
                transaction_id=str(row["id"]),
                amount_minor=row["amount_minor"],
                occurred_on=row["occurred_on"],
            )
            for row in bank
        ],
    )
    return PayoutCheck(
        payouts=answers,
        days={row["payout_id"]: row["occurred_on"] for row in sent},
        amounts_minor={row["payout_id"]: row["amount_minor"] for row in sent},
        uncovered=uncovered,
        unknown_arrivals=unknown,
    )
