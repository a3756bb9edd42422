"""Payouts and the payments they cover, bank lines and the payouts they are."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Container, Sequence

import msgspec

from stallkeep.domain.matching.payouts_arrived import BANK_DAYS, BankLine, Payout, arrivals

__all__ = ["BANK_DAYS", "BankLine", "PaidIn", "Payout", "PayoutAnswer", "match_payouts"]

LONGEST_WAIT_DAYS = 14
HIGHEST_FEE_PERCENT = 6  # of a run that is found by its sum: common practice, no source
MOST_KEPT_PERCENT = 30  # of payments that name their payout; channels keep more than card readers


class PaidIn(msgspec.Struct, frozen=True, kw_only=True):
    """A payment, a channel's sale, a refund or a charge that some payout carries.

    Attributes:
        transaction_id: Its id.
        amount_minor: Signed, gross.
        fee_minor: What the provider keeps of it, None when the export does not say.
        occurred_on: Day.
        payout_id: The payout that carried it, where the file says.
    """

    transaction_id: str
    amount_minor: int
    fee_minor: int | None = None
    occurred_on: dt.date
    payout_id: str | None = None


class PayoutAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What is known about one payout.

    Attributes:
        payout_id: The payout.
        covers: Transaction ids, in order of day and id.
        gross_minor: Their sum.
        fees_minor: Their fees; where some are unknown, what is missing to the payout, if that
            can be fees (at most MOST_KEPT_PERCENT of what has no fee told).
        off_minor: Payout less gross plus fees: 0 when it adds up to the cent.
        named: True when the payments name it, False when found by their sum.
        bank_id: The bank line it is, None when none fits.
        arrived_minor: Amount of the bank line, minus when the provider took money. It is not the
            payout's only where the bank line names the payout.
    """

    payout_id: str
    covers: tuple[str, ...]
    gross_minor: int
    fees_minor: int
    off_minor: int
    named: bool
    bank_id: str | None = None
    arrived_minor: int | None = None


def match_payouts(
    payouts: Sequence[Payout],
    paid: Sequence[PaidIn],
    bank: Sequence[BankLine] = (),
    elsewhere: Sequence[Payout] = (),
) -> tuple[tuple[PayoutAnswer, ...], tuple[str, ...], tuple[str, ...]]:
    """Say what each payout covers and which bank line it is.

    Payments that name a payout belong to that one alone. The others are tried as one run in order
    of days whose net sum is the payout's to the cent, the most recent such run first. A bank line
    that names a payout is that one, whatever else has its amount.

    Args:
        payouts: Of one provider, each id once.
        paid: What they may carry.
        bank: Money that arrived from whomever, or left.
        elsewhere: Payouts of other providers, which bank lines may be as well.

    Returns:
        One answer per payout in the order given; transaction ids no payout covers; money that
        arrived and is no payout. Ids are sorted.
    """
    named, loose = _by_name(payouts, paid)
    uncovered = {line.transaction_id for line in paid}
    found: dict[str, Sequence[PaidIn]] = dict(named)
    for payout in sorted(payouts, key=lambda p: (p.occurred_on, p.payout_id)):
        if payout.payout_id not in named:
            run = _run_for(payout, loose)
            found[payout.payout_id] = run
            gone = {line.transaction_id for line in run}
            loose = [line for line in loose if line.transaction_id not in gone]
    arrived = arrivals([*payouts, *elsewhere], bank)
    answers = tuple(
        _answer(payout, found[payout.payout_id], arrived.get(place), named)
        for place, payout in enumerate(payouts)
    )
    uncovered -= {one for answer in answers for one in answer.covers}
    spent = {line.transaction_id for line in arrived.values()}
    unknown = (b.transaction_id for b in bank if b.amount_minor > 0)
    return answers, tuple(sorted(uncovered)), tuple(sorted(set(unknown) - spent))


def _by_name(
    payouts: Sequence[Payout], paid: Sequence[PaidIn]
) -> tuple[dict[str, list[PaidIn]], list[PaidIn]]:
    """Part payments into those that name one of the payouts, and those that may be of any.

    A name that no payout has is of one not listed; where no name fits any, payments and payouts
    are named in different ways, and names say nothing.
    """
    ids = {payout.payout_id for payout in payouts}
    named: dict[str, list[PaidIn]] = defaultdict(list)
    others: list[PaidIn] = []
    for line in sorted(paid, key=lambda x: (x.occurred_on, x.transaction_id)):
        (named[line.payout_id] if line.payout_id in ids else others).append(line)
    loose = [line for line in others if line.payout_id is None or not named]
    return dict(named), loose


def _run_for(payout: Payout, loose: Sequence[PaidIn]) -> list[PaidIn]:
    """The latest run of payments that adds up; with unknown fees, to within a usual fee."""
    near = [
        line
        for line in loose
        if 0 <= (payout.occurred_on - line.occurred_on).days <= LONGEST_WAIT_DAYS
    ]
    fees_known = all(line.fee_minor is not None for line in near)
    for end in range(len(near), 0, -1):
        total = 0
        for start in range(end - 1, -1, -1):
            total += near[start].amount_minor - (near[start].fee_minor or 0)
            if _fits(payout.amount_minor, total, fees_known=fees_known):
                return near[start:end]
    return []


def _fits(sent: int, total: int, *, fees_known: bool) -> bool:
    if fees_known:
        return sent == total
    return 0 <= (total - sent) * 100 <= abs(total) * HIGHEST_FEE_PERCENT


def _answer(
    payout: Payout,
    lines: Sequence[PaidIn],
    arrived: BankLine | None,
    named: Container[str],
) -> PayoutAnswer:
    gross = sum(line.amount_minor for line in lines)
    fees = _fees(payout, lines, gross)
    return PayoutAnswer(
        payout_id=payout.payout_id,
        covers=tuple(line.transaction_id for line in lines),
        gross_minor=gross,
        fees_minor=fees,
        off_minor=payout.amount_minor - gross + fees,
        named=payout.payout_id in named,
        bank_id=arrived.transaction_id if arrived else None,
        arrived_minor=arrived.amount_minor if arrived else None,
    )


def _fees(payout: Payout, lines: Sequence[PaidIn], gross: int) -> int:
    told = sum(line.fee_minor or 0 for line in lines)
    missing = gross - told - payout.amount_minor
    untold = sum(line.amount_minor for line in lines if line.fee_minor is None)
    may_be_fees = 0 <= missing * 100 <= untold * MOST_KEPT_PERCENT
    return told + missing if may_be_fees else told
