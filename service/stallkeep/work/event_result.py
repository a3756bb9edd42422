"""The result of an event: read its facts, compute."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any
from uuid import UUID

import msgspec

from stallkeep.domain.cost_split import PartOf
from stallkeep.domain.event_facts import (
    Cost,
    EventDay,
    EventFacts,
    Possibility,
    Refund,
    SoldPiece,
    TakenPiece,
    Takings,
)
from stallkeep.domain.fees import FeeSchedule
from stallkeep.domain.results import EventResult, result_of_sums
from stallkeep.domain.results import event_result as compute
from stallkeep.domain.sell_through import band_starts
from stallkeep.domain.settled import Settled
from stallkeep.domain.settled_lines import unsettled
from stallkeep.domain.tax import TaxSettings
from stallkeep.domain.trips import Trip
from stallkeep.store import result_facts as store
from stallkeep.store import settled_facts
from stallkeep.store.connection import Connection, Row
from stallkeep.store.shops import Shop
from stallkeep.work.event_errors import EventNotFoundError
from stallkeep.work.what_waits import what_waits


async def event_result(
    con: Connection, shop: Shop, event_id: UUID, *, explain: bool = False
) -> EventResult:
    """Say what an event earned; one that is not over gives the result so far.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    if explain:
        result = compute(await event_facts(con, shop, event_id), explain=True)
    else:
        result = result_of_sums(*await event_sums(con, shop, event_id))
    waits = await what_waits(con, shop, event_id)
    if not waits:
        return result
    told = (*result.missing, *waits)
    return msgspec.structs.replace(result, is_final=False, missing=told)


async def event_sums(con: Connection, shop: Shop, event_id: UUID) -> tuple[EventFacts, Settled]:
    """Read what an event's result is made from, its settled payments and its rail added up.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    found = await _read(con, shop, [event_id], settled=False)
    if event_id not in found:
        raise EventNotFoundError("There is no such event in this shop")
    facts = unsettled(found[event_id])
    settled = await settled_facts.settled(
        con,
        shop.shop_id,
        event_id,
        currency=facts.currency,
        tax=facts.tax,
        fee_methods=[*facts.fee_schedules],
        band_starts_minor=band_starts(facts.currency, facts.price_bands_minor),
    )
    return facts, settled


async def event_facts(con: Connection, shop: Shop, event_id: UUID) -> EventFacts:
    """Read everything that the result of an event is made from.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    found = await events_facts(con, shop, [event_id])
    if event_id not in found:
        raise EventNotFoundError("There is no such event in this shop")
    return found[event_id]


async def events_facts(
    con: Connection, shop: Shop, event_ids: Sequence[UUID]
) -> dict[UUID, EventFacts]:
    """Read what the results of many events are made from, in as many statements as for one.

    An id that is none of the shop's events is left out.
    """
    return await _read(con, shop, event_ids, settled=True)


async def _read(
    con: Connection, shop: Shop, event_ids: Sequence[UUID], *, settled: bool
) -> dict[UUID, EventFacts]:
    """Read facts; without settled ones the lines of those payments and the rail are left out."""
    asked = (con, shop.shop_id, event_ids)
    works_out_tax = shop.tax_mode != "none"
    money = await store.money(*asked, settled=settled, works_out_tax=works_out_tax)
    of_event = {
        "money": _by(money, "event_id"),
        "days": _by(await store.days(*asked), "event_id"),
        "costs": _by(await store.costs(*asked), "event_id"),
        "rail": _by(await store.rail(*asked) if settled else [], "event_id"),
    }
    pieces = _grouped(await store.sold_pieces(*asked) if settled else [], _piece)
    possible = _grouped(await store.possibilities(*asked), _possibility)
    return {
        event["id"]: _facts(
            shop,
            event,
            {name: rows.get(event["id"], []) for name, rows in of_event.items()},
            pieces,
            possible,
        )
        for event in await store.events(*asked)
    }


def _facts(
    shop: Shop,
    event: Row,
    rows: Mapping[str, list[Row]],
    pieces: Mapping[UUID, tuple[SoldPiece, ...]],
    possible: Mapping[UUID, tuple[Possibility, ...]],
) -> EventFacts:
    money = [row for row in rows["money"] if row["currency"] == shop.currency]
    days, terms = rows["days"], event["fee_terms"]
    return EventFacts(
        currency=shop.currency,
        days=tuple(_day(row, is_closed=event["state"] == "closed") for row in days),
        takings=tuple(_takings(row, pieces, possible) for row in money if _is_takings(row)),
        refunds=tuple(_refunds(money)),
        costs=(
            *(_cost(row, days) for row in rows["costs"]),
            *(_fee(row) for row in money if row["kind"] == "fee"),
        ),
        pitch_fee_minor=event["pitch_fee_minor"],
        rail=tuple(_taken(row) for row in rows["rail"]),
        fee_schedules={} if terms is None else {"card": msgspec.convert(terms, FeeSchedule)},
        tax=tax_of(shop),
        reclaims_tax=shop.reclaims_tax,
        own_minutes=event["own_minutes"],
    )


def tax_of(shop: Shop) -> TaxSettings:
    """Read how the shop deals with sales tax."""
    told = {
        "mode": shop.tax_mode,
        "rates": shop.tax_rates,
        "round_per": shop.tax_round_per,
        "parts_apart": shop.tax_parts_apart,
        "cash_step_minor": shop.cash_step_minor,
    }
    return msgspec.convert(told, TaxSettings)


def _is_takings(row: Row) -> bool:
    return row["kind"] in ("payment", "sale") and row["amount_minor"] >= 0


def _takings(
    row: Row,
    pieces: Mapping[UUID, tuple[SoldPiece, ...]],
    possible: Mapping[UUID, tuple[Possibility, ...]],
) -> Takings:
    state = row["match_state"]
    return Takings(
        id=str(row["id"]),
        day=row["occurred_on"],
        method=row["method"],
        amount_minor=row["amount_minor"],
        state=state if state != "not_needed" else "unmatched",
        tip_minor=row["tip_minor"],
        tax_minor=row["tax_minor"],
        fee_minor=row["fee_minor"],
        pieces=pieces.get(row["id"], ()) if state == "matched" else (),
        possibilities=possible.get(row["id"], ()) if state == "proposed" else (),
        is_income=row["is_income"],
    )


def _refunds(money: Iterable[Row]) -> Iterator[Refund]:
    for row in money:
        is_back = row["kind"] in ("refund", "adjustment")
        if is_back or (row["kind"] in ("payment", "sale") and row["amount_minor"] < 0):
            yield Refund(
                id=str(row["id"]),
                day=row["occurred_on"],
                method=row["method"],
                amount_minor=row["amount_minor"],
                tax_minor=row["tax_minor"],
                fee_minor=row["fee_minor"],
            )
        elif row["refunded_minor"]:
            yield Refund(
                id=f"{row['id']}/refunded",
                day=row["occurred_on"],
                method=row["method"],
                amount_minor=-row["refunded_minor"],
            )


def _piece(row: Row) -> SoldPiece:
    return SoldPiece(
        item_id=row["tag_code"],  # what a person finds on the tag
        price_minor=row["price_minor"],
        cost_minor=row["cost_minor"],
        quantity=row["quantity"],
        category=row["category"],
        margin_scheme=row["margin_scheme"],
        is_returned=row["state"] == "returned",
        by_average=row["by_average"],
    )


def _possibility(row: Row) -> Possibility:
    return Possibility(
        probability=row["probability"], pieces=row["pieces"], cost_minor=row["cost_minor"]
    )


def _grouped(rows: Iterable[Row], make: Any) -> dict[UUID, tuple[Any, ...]]:  # noqa: ANN401
    groups = _by(rows, "transaction_id")
    return {key: tuple(make(row) for row in listed) for key, listed in groups.items()}


def _by(rows: Iterable[Row], column: str) -> dict[UUID, list[Row]]:
    groups: dict[UUID, list[Row]] = defaultdict(list)
    for row in rows:
        groups[row[column]].append(row)
    return groups


def _day(row: Row, *, is_closed: bool) -> EventDay:
    return EventDay(
        day=row["day"],
        open_minutes=_open_minutes(row["opens_at"], row["closes_at"]),
        pitch_fee_minor=row["pitch_fee_minor"],
        float_minor=row["float_minor"],
        counted_cash_minor=row["counted_cash_minor"],
        taken_out_minor=row["taken_out_minor"],
        every_cash_sale_noted=row["every_cash_sale_noted"],
        is_closed=is_closed,
    )


def _open_minutes(opens: dt.time | None, closes: dt.time | None) -> int | None:
    if opens is None or closes is None:
        return None
    return (closes.hour - opens.hour) * 60 + closes.minute - opens.minute


def _cost(row: Row, days: Iterable[Row]) -> Cost:
    of_day = row["spent_on"] in {day["day"] for day in days}
    return Cost(
        id=str(row["id"]),
        kind=row["kind"],
        amount_minor=row["amount_minor"],
        tax_minor=row["tax_minor"],
        day=row["spent_on"] if of_day else None,
        trip=None if row["trip"] is None else msgspec.convert(row["trip"], Trip),
        part_of=None if row["split_by"] is None else _part_of(row),
    )


def _part_of(row: Row) -> PartOf:
    return PartOf(
        whole_minor=row["whole_minor"],
        split_by=row["split_by"],
        share=row["share"],
        shares=row["shares"],
        events=row["events"],
    )


def _fee(row: Row) -> Cost:
    return Cost(
        id=str(row["id"]), kind="fees", amount_minor=-row["amount_minor"], day=row["occurred_on"]
    )


def _taken(row: Row) -> TakenPiece:
    return TakenPiece(
        item_id=row["tag_code"],  # what a person finds on the tag
        quantity=row["quantity"],
        price_minor=row["price_minor"],
        cost_minor=row["cost_minor"],
        category=row["category"],
        counted_home=row["counted_home"],
        sold_elsewhere=row["sold_elsewhere"],
    )
