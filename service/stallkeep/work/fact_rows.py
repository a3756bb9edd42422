"""Rows of the database as the facts of an event."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
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
from stallkeep.domain.trips import Trip
from stallkeep.store.connection import Row
from stallkeep.store.shops import Shop
from stallkeep.work.shop_tax import reclaims_tax, tax_of


def facts_told(
    shop: Shop,
    event: Row,
    rows: Mapping[str, list[Row]],
    pieces: Mapping[UUID, tuple[SoldPiece, ...]],
    possible: Mapping[UUID, tuple[Possibility, ...]],
) -> EventFacts:
    """Turn an event's rows into facts; money in another currency is left out.

    Args:
        shop: The shop.
        event: Its own row.
        rows: Of its money, days, costs and rail.
        pieces: Sold pieces by the transaction that paid for them.
        possible: What a transaction may have been for.
    """
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
        tax=tax_of(shop, event["starts_on"]),
        reclaims_tax=reclaims_tax(shop, event["starts_on"]),
        own_minutes=event["own_minutes"],
    )


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
                of=None if row["gives_back"] is None else str(row["gives_back"]),
            )
        elif row["refunded_minor"]:
            yield Refund(
                of=str(row["id"]),
                id=f"{row['id']}/refunded",
                day=row["occurred_on"],
                method=row["method"],
                amount_minor=-row["refunded_minor"],
            )


def piece_told(row: Row) -> SoldPiece:
    """Turn a line of a sale into a sold piece."""
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


def possibility_told(row: Row) -> Possibility:
    """Turn one proposal into a possibility."""
    return Possibility(
        probability=row["probability"], pieces=row["pieces"], cost_minor=row["cost_minor"]
    )


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
