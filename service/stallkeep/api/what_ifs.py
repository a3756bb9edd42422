"""What an event would have earned with other prices, pitch, days or help; what a net takes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

from litestar import post
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from msgspec import Meta, field

from stallkeep.api.auth import Caller
from stallkeep.api.fee_terms import Percent
from stallkeep.api.money_views import money_view, to_view
from stallkeep.api.price_terms import SignedPercent, read_percent
from stallkeep.api.problems import field_error
from stallkeep.api.schemas import Body, Money, Price, minor
from stallkeep.domain.what_if import MILLION
from stallkeep.work import what_if_event as work

if TYPE_CHECKING:
    WhatIfs = Any
else:
    WhatIfs = money_view(work.WhatIfs)


class PriceChange(Body):
    """Every price changed by a share, then by an amount; minus is lower."""

    percent: SignedPercent = "0"
    amount: Money | None = None


class WhatIfQuestions(Body):
    """What is asked, at least one thing; `pitch_fee` is for the whole event.

    `wanted_net` asks how many pieces, and what takings, leave that net; `income_tax_percent` of
    what the event earns is taken off first.
    """

    prices: Annotated[list[PriceChange], Meta(max_length=20)] = field(default_factory=list)
    pitch_fee: Price | None = None
    one_more_day_cost: Price | None = None
    helpers_saved: Price | None = None
    wanted_net: Money | None = None
    income_tax_percent: Percent = "0"


@post(
    "/v1/events/{event_id:uuid}/what-ifs",
    operation_id="askWhatIf",
    tags=["events"],
    status_code=200,
)
async def ask_what_if(
    event_id: FromPath[UUID], data: JSONBody[WhatIfQuestions], caller: NamedDependency[Caller]
) -> WhatIfs:
    """Ask what the event would have earned: the net at as many pieces, and the pieces for as much.

    Also what a wanted net takes, and always how much the net hangs on the takings.

    Nothing is stored. Arithmetic on what was entered, not tax or accounting advice.
    """
    questions = _questions(data, caller.shop.currency)
    async with caller.read_scope() as con:
        found = await work.what_if_event(con, caller.shop, event_id, questions)
    return to_view(found, caller.shop.currency)


def _questions(data: WhatIfQuestions, currency: str) -> work.Questions:
    others = ("pitch_fee", "one_more_day_cost", "helpers_saved", "wanted_net")
    amounts = [_or_none(getattr(data, name), currency, name) for name in others]
    if not data.prices and amounts == [None] * len(others):
        raise field_error("Expected at least one question", ())
    return work.Questions(
        prices=tuple(_prices(one, currency, n) for n, one in enumerate(data.prices)),
        pitch_fee_minor=amounts[0],
        one_more_day_minor=amounts[1],
        helpers_saved_minor=amounts[2],
        wanted_net_minor=amounts[3],
        income_tax_ppm=_income_tax(data.income_tax_percent),
    )


def _prices(change: PriceChange, currency: str, place: int) -> work.OtherPrices:
    share = read_percent(change.percent, ("prices", place, "percent"))
    offset = 0
    if change.amount is not None:
        offset = minor(change.amount, currency, ("prices", place, "amount"))
    return work.OtherPrices(offset_minor=offset, share_ppm=share)


def _income_tax(percent: str) -> int:
    place = ("income_tax_percent",)
    share = read_percent(percent, place)
    if share >= MILLION:
        raise field_error("Expected less than 100 per cent", place)
    return share


def _or_none(text: str | None, currency: str, name: str) -> int | None:
    return None if text is None else minor(text, currency, (name,))


ROUTES = (ask_what_if,)
