"""What a coming event may bring, and whether to book it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

from litestar import post
from litestar.di import NamedDependency
from litestar.params import JSONBody
from msgspec import Meta

from stallkeep.api.auth import Caller
from stallkeep.api.money_views import money_view, to_view
from stallkeep.api.schemas import Body, Price, View, minor
from stallkeep.domain import forecast as domain
from stallkeep.domain.money import to_text
from stallkeep.domain.newsvendor import Outcome as RailOutcome
from stallkeep.work import forecast_event as work

if TYPE_CHECKING:
    NetBin = Any
    NetQuantile = Any
    Outcome = Any
    PieceQuantile = Any
else:
    NetBin = money_view(domain.Bin)
    NetQuantile = money_view(domain.NetQuantile)
    Outcome = money_view(RailOutcome)
    PieceQuantile = money_view(domain.PieceQuantile)


class NewForecast(Body):
    """What to forecast: a coming event with its rail and costs."""

    event_id: UUID
    wanted_chance: Annotated[
        float, Meta(gt=0, lt=1, description="For which the highest pitch fee is told")
    ] = 0.8
    pitch_fee: Price | None = None
    space_cost: Price | None = None
    draws: Annotated[int, Meta(ge=100, le=100_000)] = 20_000
    seed: Annotated[int, Meta(ge=0, le=2**53)] = 1


class Forecast(View):
    """What a coming event may bring.

    `pieces_to_have` suffices for the demand, `pieces_to_take` also gives the choice that
    customers are used to; `prior_share` is the part that rests on common practice instead of the
    shop's own history, and `limits` says how little supports it, where that is so.
    """

    event: str
    currency: str
    advice: str
    summary: str
    limits: list[str]
    pitch_fee: str
    other_costs: str
    wanted_chance: float
    highest_pitch_fee: str
    chance_to_break_even: float
    pieces: list[PieceQuantile]
    mean_pieces: float
    net: list[NetQuantile]
    mean_net: str
    histogram: list[NetBin]
    margin_per_piece: str
    pieces_to_have: int
    pieces_to_take: int | None
    rail: Outcome
    chance_rail_runs_out: float
    paid_share_ppm: int
    events: int
    events_worth: float
    prior_share: float
    seed: int
    caution: str


@post("/v1/forecasts", operation_id="forecastEvent", tags=["events"], status_code=200)
async def forecast_event(data: JSONBody[NewForecast], caller: NamedDependency[Caller]) -> Forecast:
    """Forecast a coming event from the shop's own earlier events and the rail's own prices.

    Nothing is stored; the same seed gives the same answer. Arithmetic on what was entered, not
    tax or accounting advice.
    """
    currency = caller.shop.currency
    wish = work.Wish(
        event_id=data.event_id,
        wanted_chance=data.wanted_chance,
        pitch_fee_minor=_or_none(data.pitch_fee, currency, "pitch_fee"),
        space_cost_minor=_or_none(data.space_cost, currency, "space_cost"),
        draws=data.draws,
        seed=data.seed,
    )
    async with caller.read_scope() as con:
        found = await work.forecast_event(con, caller.shop, wish, caller.today())
    return _view(found, currency)


def _view(found: work.Prospect, currency: str) -> Forecast:
    told = to_view(found.forecast, currency)
    same = {name for name in Forecast.__struct_fields__ if hasattr(told, name)}
    return Forecast(
        **{name: getattr(told, name) for name in same},
        event=found.event,
        currency=found.currency,
        advice=found.advice,
        pitch_fee=to_text(found.pitch_fee_minor, currency),
        other_costs=to_text(found.other_costs_minor, currency),
        wanted_chance=found.wanted_chance,
        paid_share_ppm=found.paid_share_ppm,
    )


def _or_none(text: str | None, currency: str, name: str) -> int | None:
    return None if text is None else minor(text, currency, (name,))


ROUTES = (forecast_event,)
