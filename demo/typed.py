"""setup.json: what a person typed in by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import TypeAlias

from demo.calendar_of_events import COMING, HARBOUR_FAIR, NEW_READER, OLD_READER, Day, Event
from demo.fair import RESTOCK_DAY
from demo.online import FEES
from demo.pieces import Piece
from demo.sales import Sale
from demo.sheet import point
from demo.words import CURRENCY, FOLLOWERS, LUMPELIO, SHELVORRA, SHOP, STALL, ZONE
from demo.world import World

Json: TypeAlias = "Mapping[str, Json] | Sequence[Json] | str | int | bool | None"

CASH_SLIPS = {dt.date(2026, 9, 11): -50}
"""Change given wrongly, in cents."""


def setup(world: World, files: list[Json]) -> dict[str, Json]:
    """Put down what opens the shop; *files* are the exports in the order they are taken in."""
    listed = {each.piece.tag_code for shown in world.listings.values() for each in shown}
    return {
        "shop": {
            "name": SHOP,
            "currency": CURRENCY,
            "time_zone": ZONE,
            "languages": ["en", "de"],
            "tax_mode": "none",
        },
        "channels": _channels(),
        "pieces": [_whole(p) for p in world.pieces if p.tag_code not in listed],
        "purchases": [_purchase(p) for p in world.pieces if p.tag_code in listed],
        "events": _events(world),
        "files": files,
    }


def _channels() -> list[Json]:
    shelvorra: dict[str, Json] = {"name": "commission", "rate_ppm": FEES[SHELVORRA].rate_ppm}
    lumpelio: dict[str, Json] = {"name": "commission", "rate_ppm": FEES[LUMPELIO].rate_ppm}
    return [
        {
            "name": STALL,
            "kind": "stall",
            "fees": [
                _schedule(reader.valid_from, _card_fee(reader.rate_ppm, reader.fixed))
                for reader in (OLD_READER, NEW_READER)
            ],
        },
        {"name": FOLLOWERS, "kind": "direct", "fees": []},
        _online(LUMPELIO, {**lumpelio, "fixed_minor": FEES[LUMPELIO].fixed}),
        _online(SHELVORRA, {**shelvorra, "minimum_minor": FEES[SHELVORRA].minimum}),
    ]


def _online(name: str, part: dict[str, Json]) -> Json:
    return {"name": name, "kind": "online", "fees": [_schedule(OLD_READER.valid_from, part)]}


def _card_fee(rate_ppm: int, fixed: int) -> dict[str, Json]:
    part: dict[str, Json] = {"name": "card fee", "kind": "payment", "rate_ppm": rate_ppm}
    return {**part, "fixed_minor": fixed} if fixed else part


def _schedule(valid_from: dt.date, part: dict[str, Json]) -> Json:
    return {"valid_from": valid_from.isoformat(), "terms": {"parts": [part]}}


def _whole(piece: Piece) -> Json:
    return {
        "tag_code": piece.tag_code,
        "title": piece.title,
        "category": piece.category,
        "size": piece.size,
        **_money(piece),
    }


def _purchase(piece: Piece) -> Json:
    return {"tag_code": piece.tag_code, "category": piece.category, **_money(piece)}


def _money(piece: Piece) -> dict[str, Json]:
    return {
        "price": point(piece.price),
        "floor": point(piece.floor),
        "cost": point(piece.cost),
        "acquired_on": piece.acquired_on.isoformat(),
    }


def _events(world: World) -> list[Json]:
    past = [
        _event(each.event, _rail(each.rail), counted_cash(each.event, each.sales))
        for each in world.earlier
    ]
    last_day = HARBOUR_FAIR.days[RESTOCK_DAY]
    rail = _rail(world.rail.first, _put_out(HARBOUR_FAIR.days[0], "10:30"))
    rail += _rail(world.rail.restocked, _put_out(last_day, "09:30"))
    fair = _event(HARBOUR_FAIR, rail, counted_cash(HARBOUR_FAIR, world.sales))
    return [*past, fair, _event(COMING, _rail(world.left), {})]


def _put_out(day: Day, at: str) -> str:
    return f"{day.day.isoformat()}T{at}"


def _rail(pieces: Iterable[Piece], put_out_at: str = "") -> list[Json]:
    entries: list[Json] = []
    for piece in pieces:
        entry: dict[str, Json] = {"tag_code": piece.tag_code, "price": point(piece.price)}
        entries.append({**entry, "put_out_at": put_out_at} if put_out_at else entry)
    return entries


def _event(event: Event, rail: list[Json], counted: dict[dt.date, int]) -> Json:
    return {
        "name": event.name,
        "channel": STALL,
        "venue": event.venue,
        "pitch": event.pitch,
        "kind": event.kind,
        "note": event.note,
        "own_minutes": dict(event.own_minutes),
        "days": [_day(day, counted.get(day.day)) for day in event.days],
        "costs": [
            {
                "kind": cost.kind,
                "amount": point(cost.amount),
                "spent_on": cost.spent_on.isoformat(),
                "note": cost.note,
            }
            for cost in event.costs
        ],
        "rail": rail,
    }


def _day(day: Day, counted: int | None) -> Json:
    return {
        "day": day.day.isoformat(),
        "opens_at": day.opens,
        "closes_at": day.closes,
        "pitch_fee": point(day.pitch_fee),
        "float": point(day.cash_float),
        "counted_cash": None if counted is None else point(counted),
    }


def counted_cash(event: Event, sales: Iterable[Sale]) -> dict[dt.date, int]:
    """What lay in the box each evening, in cents: forgotten sales and wrong change included."""
    return {
        day.day: day.cash_float
        + sum(s.amount for s in sales if s.method == "cash" and s.at.date() == day.day)
        + CASH_SLIPS.get(day.day, 0)
        for day in event.days
    }
