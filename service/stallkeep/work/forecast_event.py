"""Forecast a coming event from the shop's own history, and say whether to book it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from uuid import UUID

import msgspec

from stallkeep.domain.errors import ForecastInputError
from stallkeep.domain.event_facts import EventFacts
from stallkeep.domain.fees import FeeSchedule
from stallkeep.domain.forecast import Forecast, ForecastPiece, ForecastQuestion, forecast
from stallkeep.domain.forecast_words import advice
from stallkeep.domain.own_shares import card_share_ppm, paid_share_ppm, sell_through_ppm
from stallkeep.domain.results import event_result as compute
from stallkeep.domain.sell_chance import kind_of, learn_chances
from stallkeep.domain.sell_through import default_bands
from stallkeep.store import events
from stallkeep.store.connection import Connection
from stallkeep.store.shops import Shop
from stallkeep.store.stock_facts import held_when_taken
from stallkeep.work.event_facts import event_facts
from stallkeep.work.past_events import KnownEvent, past_events, past_pieces
from stallkeep.work.references import need_event


class Wish(msgspec.Struct, frozen=True, kw_only=True):
    """What a forecast is asked for, the shop's own figures apart.

    Attributes:
        event_id: The coming event; its rail and costs are read.
        wanted_chance: Chance of not losing money for which the highest pitch fee is asked.
        pitch_fee_minor: Another pitch fee than the one entered; None for that one.
        space_cost_minor: What taking a piece in vain costs; None takes enough in 95 of 100 cases.
        draws: How often it is drawn.
        seed: The same seed gives the same answer.
    """

    event_id: UUID
    wanted_chance: float = 0.8
    pitch_fee_minor: int | None = None
    space_cost_minor: int | None = None
    draws: int = 20_000
    seed: int = 1


class Prospect(msgspec.Struct, frozen=True, kw_only=True):
    """A forecast of an event and what follows from it.

    Attributes:
        currency: ISO 4217 code of every amount.
        event: Its name.
        pitch_fee_minor: The pitch fee reckoned with.
        other_costs_minor: All other costs entered for it.
        wanted_chance: As asked.
        paid_share_ppm: What customers paid of the price on the tag at earlier events.
        forecast: The forecast.
        advice: One sentence on whether the pitch is worth its fee.
    """

    currency: str
    event: str
    pitch_fee_minor: int
    other_costs_minor: int
    wanted_chance: float
    paid_share_ppm: int
    forecast: Forecast
    advice: str


async def forecast_event(con: Connection, shop: Shop, wish: Wish, today: dt.date) -> Prospect:
    """Forecast an event that has not begun, or the days still to come of one that has.

    Raises:
        UnknownReferenceError: The shop has no such event.
        ForecastInputError: It has no rail, or no day to come.
    """
    event = await need_event(con, shop.shop_id, wish.event_id)
    if event.state == "closed":
        raise ForecastInputError(f"{event.name!r} is over; there is no day to come")
    facts = await event_facts(con, shop, wish.event_id)
    past = await past_events(con, shop, today, but=wish.event_id)
    ids = [event.id, *(one.id for one in past)]
    held = await held_when_taken(con, shop.shop_id, ids)
    question = _question(event, facts, past, wish, today)
    question = msgspec.structs.replace(question, rail=_rail(event.id, facts, past, held))
    found = forecast(question)
    return Prospect(
        currency=shop.currency,
        event=event.name,
        pitch_fee_minor=question.pitch_fee_minor,
        other_costs_minor=question.other_costs_minor,
        wanted_chance=wish.wanted_chance,
        paid_share_ppm=question.paid_share_ppm,
        forecast=found,
        advice=advice(
            question.pitch_fee_minor,
            found.highest_pitch_fee_minor,
            wish.wanted_chance,
            shop.currency,
        ),
    )


def _question(
    event: events.Event,
    facts: EventFacts,
    past: Sequence[KnownEvent],
    wish: Wish,
    today: dt.date,
) -> ForecastQuestion:
    now = compute(facts).whole
    pitch = sum(cost.amount_minor for cost in now.costs if cost.kind == "pitch_fee")
    passed = sum(day.day < today for day in facts.days)
    return ForecastQuestion(
        currency=facts.currency,
        starts_on=event.starts_on,
        days=float(len(facts.days) - passed),
        kind=event.kind,
        history=tuple(one.as_history() for one in past),
        pitch_fee_minor=pitch if wish.pitch_fee_minor is None else wish.pitch_fee_minor,
        other_costs_minor=now.costs_minor - pitch,
        paid_share_ppm=paid_share_ppm(one.facts for one in past),
        fees=facts.fee_schedules.get("card", FeeSchedule()),
        card_share_ppm=card_share_ppm(one.result for one in past),
        tax=facts.tax,
        wanted_chance=wish.wanted_chance,
        space_cost_minor=wish.space_cost_minor,
        usual_sell_through_ppm=sell_through_ppm(one.result for one in past),
        pieces_so_far=now.pieces.sold if passed else 0,
        days_so_far=float(passed),
        draws=wish.draws,
        seed=wish.seed,
    )


def _rail(
    event_id: UUID,
    facts: EventFacts,
    past: Sequence[KnownEvent],
    held: Mapping[tuple[UUID, str], int | None],
) -> tuple[ForecastPiece, ...]:
    """Take the pieces with a price that are not sold yet, each with its chance to sell."""
    bands = default_bands(facts.currency)
    chances = learn_chances(past_pieces(past, held, bands))
    sold: dict[str, int] = {}
    for line in facts.takings:
        for piece in line.pieces:
            gone = 0 if piece.is_returned else piece.quantity
            sold[piece.item_id] = sold.get(piece.item_id, 0) + gone
    found: list[ForecastPiece] = []
    for taken in facts.rail:
        if taken.price_minor is None:
            continue
        days = held.get((event_id, taken.item_id)) or 0
        one = ForecastPiece(
            item_id=taken.item_id,
            price_minor=taken.price_minor,
            cost_minor=taken.cost_minor,
            chance=chances.of(kind_of(taken.category, taken.price_minor, days, bands)),
        )
        found += [one] * (taken.quantity - sold.get(taken.item_id, 0))
    return tuple(found)
