"""Payouts and the payments they cover, bank lines and the payouts they are."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence

import msgspec
import numpy as np
from scipy.optimize import linear_sum_assignment

LONGEST_WAIT_DAYS = 14
BANK_DAYS = 7
HIGHEST_FEE = 0.06
NEVER = 1e6


class PaidIn(msgspec.Struct, frozen=True, kw_only=True):
    """A payment or refund that some payout carries.

    Attributes:
        transaction_id: Its id.
        amount_minor: Signed, gross.
        fee_minor: Fee kept by the provider, None when the export does not say.
        occurred_on: Day.
        payout_id: The payout that carried it, where the file says.
    """

    transaction_id: str
    amount_minor: int
    fee_minor: int | None = None
    occurred_on: dt.date
    payout_id: str | None = None


class Payout(msgspec.Struct, frozen=True, kw_only=True):
    """Money a provider sent.

    Attributes:
        payout_id: Its own id, as payments name it.
        amount_minor: Net amount sent.
        occurred_on: Day.
    """

    payout_id: str
    amount_minor: int
    occurred_on: dt.date


class BankLine(msgspec.Struct, frozen=True, kw_only=True):
    """Money that arrived at the bank."""

    transaction_id: str
    amount_minor: int
    occurred_on: dt.date


class PayoutAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What is known about one payout.

    Attributes:
        payout_id: The payout.
        covers: Transaction ids, in order of day and id.
        gross_minor: Their sum.
        fees_minor: Their fees; where unknown, what is missing to the payout.
        off_minor: Payout less gross plus fees: 0 when it adds up to the cent.
        named: True when the payments name it, False when found by their sum.
        bank_id: The bank line it is, None when none fits.
    """

    payout_id: str
    covers: tuple[str, ...]
    gross_minor: int
    fees_minor: int
    off_minor: int
    named: bool
    bank_id: str | None = None


def match_payouts(
    payouts: Sequence[Payout], paid: Sequence[PaidIn], bank: Sequence[BankLine] = ()
) -> tuple[tuple[PayoutAnswer, ...], tuple[str, ...], tuple[str, ...]]:
    """Say what each payout covers and which bank line it is.

    Payments that name their payout are taken as named. The others are tried as one run in order
    of days whose net sum is the payout's to the cent, the most recent such run first.

    Returns:
        One answer per payout in the order given; transaction ids no payout covers; bank lines
        that are no payout. Ids are sorted.
    """
    named: dict[str, list[PaidIn]] = defaultdict(list)
    loose: list[PaidIn] = []
    ids = {payout.payout_id for payout in payouts}
    for line in sorted(paid, key=lambda x: (x.occurred_on, x.transaction_id)):
        (named[line.payout_id] if line.payout_id in ids else loose).append(line)
    found: dict[str, list[PaidIn]] = {}
    for payout in sorted(payouts, key=lambda p: (p.occurred_on, p.payout_id)):
        if payout.payout_id not in named:
            run = _run_for(payout, loose)
            found[payout.payout_id] = run
            gone = {line.transaction_id for line in run}
            loose = [line for line in loose if line.transaction_id not in gone]
    arrived = _bank_lines(payouts, bank)
    answers = tuple(
        _answer(p, named.get(p.payout_id) or found.get(p.payout_id, []), arrived, named)
        for p in payouts
    )
    spent = set(arrived.values())
    return (
        answers,
        tuple(sorted(line.transaction_id for line in loose)),
        tuple(sorted(b.transaction_id for b in bank if b.transaction_id not in spent)),
    )


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
    return total * (1 - HIGHEST_FEE) <= sent <= total


def _answer(
    payout: Payout,
    lines: Sequence[PaidIn],
    arrived: dict[str, str],
    named: dict[str, list[PaidIn]],
) -> PayoutAnswer:
    gross = sum(line.amount_minor for line in lines)
    known = all(line.fee_minor is not None for line in lines)
    fees = sum(line.fee_minor or 0 for line in lines) if known else gross - payout.amount_minor
    return PayoutAnswer(
        payout_id=payout.payout_id,
        covers=tuple(line.transaction_id for line in lines),
        gross_minor=gross,
        fees_minor=fees,
        off_minor=payout.amount_minor - gross + fees,
        named=payout.payout_id in named,
        bank_id=arrived.get(payout.payout_id),
    )


def _bank_lines(payouts: Sequence[Payout], bank: Sequence[BankLine]) -> dict[str, str]:
    """Equal amounts, least total days between."""
    if not payouts or not bank:
        return {}
    ordered = sorted(payouts, key=lambda p: (p.occurred_on, p.payout_id))
    lines = sorted(bank, key=lambda b: (b.occurred_on, b.transaction_id))
    cost = np.array([[_days_apart(p, b) for b in lines] for p in ordered])
    rows, columns = linear_sum_assignment(cost)
    return {
        ordered[r].payout_id: lines[c].transaction_id
        for r, c in zip(rows, columns, strict=True)
        if cost[r, c] < NEVER
    }


def _days_apart(payout: Payout, line: BankLine) -> float:
    days = (line.occurred_on - payout.occurred_on).days
    if line.amount_minor != payout.amount_minor or not 0 <= days <= BANK_DAYS:
        return NEVER
    return float(days)
