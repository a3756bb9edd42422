"""Payouts: what each covers, whether it adds up, and whether it arrived."""

from __future__ import annotations

import datetime as dt
from typing import Annotated
from uuid import UUID

from litestar import get
from litestar.di import NamedDependency
from litestar.params import QueryParameter

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.schemas import View
from stallkeep.domain.matching.payouts import PayoutAnswer
from stallkeep.domain.money import to_text
from stallkeep.work.check_payouts import PayoutCheck, check_payouts


class Payout(View):
    """One payout. `off` is what payments and payout differ by: "0.00" when they add up to the cent.

    `gross` is what customers paid less what was given back, `fees` what was kept of it, postage
    bought on the channel included. `named` payments say themselves which payout they are in; the
    others are found by their sum. A payout below zero is money the provider took.

    `arrived` is the amount of its bank line, and `arrived_off` what that differs by from the
    payout: not "0.00" only where the bank line names the payout; null while none fits.
    """

    payout_id: str
    occurred_on: dt.date
    amount: str
    gross: str
    fees: str
    off: str
    named: bool
    covers: list[UUID]
    bank_transaction_id: UUID | None
    arrived: str | None
    arrived_off: str | None


class Payouts(View):
    """The payouts of a channel, payments that none covers yet, and arrivals from nobody known."""

    data: list[Payout]
    uncovered: list[UUID]
    unknown_arrivals: list[UUID]


@get("/v1/payouts", operation_id="checkPayouts", tags=["transactions"], opt=FOR_HELPERS)
async def list_payouts(
    caller: NamedDependency[Caller],
    channel: Annotated[UUID, QueryParameter(description="Channel the payouts are from")],
    from_on: Annotated[
        dt.date | None, QueryParameter(name="from", description="First day, inclusive")
    ] = None,
    to_on: Annotated[
        dt.date | None, QueryParameter(name="to", description="Last day, inclusive")
    ] = None,
) -> Payouts:
    """List what the provider sent, which payments each covers, and what does not add up."""
    async with caller.read_scope() as con:
        found = await check_payouts(con, caller.shop, channel, from_on, to_on)
    return _view(found, caller.shop.currency)


def _view(found: PayoutCheck, currency: str) -> Payouts:
    return Payouts(
        data=[
            _payout(
                answer,
                found.days[answer.payout_id],
                found.amounts_minor[answer.payout_id],
                currency,
            )
            for answer in found.payouts
        ],
        uncovered=[UUID(one) for one in found.uncovered],
        unknown_arrivals=[UUID(one) for one in found.unknown_arrivals],
    )


def _payout(answer: PayoutAnswer, day: dt.date, sent_minor: int, currency: str) -> Payout:
    arrived = answer.arrived_minor
    return Payout(
        payout_id=answer.payout_id,
        occurred_on=day,
        amount=to_text(sent_minor, currency),
        gross=to_text(answer.gross_minor, currency),
        fees=to_text(answer.fees_minor, currency),
        off=to_text(answer.off_minor, currency),
        named=answer.named,
        covers=[UUID(one) for one in answer.covers],
        bank_transaction_id=UUID(answer.bank_id) if answer.bank_id else None,
        arrived=None if arrived is None else to_text(arrived, currency),
        arrived_off=None if arrived is None else to_text(arrived - sent_minor, currency),
    )


ROUTES = (list_payouts,)
