"""A shop's year: read sums, work out what no export tells, cut it in every way."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from uuid import UUID

import msgspec

from stallkeep.domain.cash_box import cash_boxes
from stallkeep.domain.errors import RejectedInputError
from stallkeep.domain.event_facts import EventDay, EventFacts, Refund, Takings
from stallkeep.domain.fees import fees_of_payment
from stallkeep.domain.money import to_text
from stallkeep.domain.stock import StockItem, StockOnHand, stock_on_hand
from stallkeep.domain.tax import tax_within
from stallkeep.domain.tax_terms import TaxTerms, terms_on
from stallkeep.domain.year import YearRow, YearTotals, year_totals
from stallkeep.store.connection import Connection, Row
from stallkeep.store.history_facts import schedules
from stallkeep.store.shops import Shop
from stallkeep.store.year_facts import YearStore
from stallkeep.work.dated_fees import DatedSchedules
from stallkeep.work.shop_tax import tax_terms

YEARS = range(1900, 2200)


class YearReport(msgspec.Struct, frozen=True, kw_only=True):
    """A year's totals and the stock at a date.

    Attributes:
        currency: ISO 4217 code of every amount.
        totals: The year, cut by month, channel, event and kind of cost.
        stock: On hand at the end of a day, at cost.
        notes: What the figures leave open, one sentence each.
    """

    currency: str
    totals: YearTotals
    stock: StockOnHand
    notes: tuple[str, ...]


async def year_report(
    con: Connection, shop: Shop, year: int, today: dt.date, stock_on: dt.date | None = None
) -> YearReport:
    """Add up a year from what is known for certain.

    Cost of goods is that of pieces with a matched payment and of pieces that a stock count of the
    whole rail misses; what an unsettled payment may have been for is left open and said in the
    notes. The stock is that of the year's last day, or of today if that is earlier.

    Raises:
        RejectedInputError: The year is none of this or the last or the next century.
    """
    if year not in YEARS:
        raise RejectedInputError(f"Expected a year from {YEARS[0]} to {YEARS[-1]}", year=year)
    on = stock_on or min(dt.date(year, 12, 31), today)
    facts = await _read(con, shop, year, on)
    return YearReport(
        currency=shop.currency,
        totals=year_totals(_rows(facts, year), year),
        stock=_stock(facts, on),
        notes=tuple(_notes(facts, shop)),
    )


class _Facts(msgspec.Struct, frozen=True):
    names: Mapping[UUID | None, str]
    fees: DatedSchedules
    changes: Sequence[dt.date]
    terms: Sequence[TaxTerms]
    lines: Sequence[Row]
    taxed: Sequence[Row]
    goods: Sequence[Row]
    gone: Sequence[Row]
    away: Sequence[Row]
    unsold: Sequence[Row]
    boxes: Sequence[Row]
    costs: Sequence[Row]


async def _read(con: Connection, shop: Shop, year: int, stock_on: dt.date) -> _Facts:
    first, last = dt.date(year, 1, 1), dt.date(year, 12, 31)
    store = YearStore(con, shop.shop_id, first, last)
    await store.prepare()
    dated = await schedules(con, shop.shop_id)
    changes = sorted({row["valid_from"] for row in dated})
    terms = tax_terms(shop)
    per_line = any(one.settings.round_per == "line" for one in terms)
    missing = await store.missing(max(last, stock_on))
    return _Facts(
        names=_unique(await store.names()),
        fees=DatedSchedules(dated),
        changes=changes,
        terms=terms,
        lines=await store.lines(shop.currency, changes, terms),
        taxed=await store.taxed_pieces(shop.currency, terms) if per_line else [],
        goods=await store.goods(shop.currency),
        gone=[row for row in missing if first <= row["day"] <= last],
        away=[row for row in missing if row["day"] <= stock_on],
        unsold=await store.stock(stock_on),
        boxes=await store.boxes(shop.currency),
        costs=await store.costs(terms),
    )


def _unique(rows: Iterable[Row]) -> dict[UUID | None, str]:
    """Name every channel and event; a name that stands twice gets its date, then a number."""
    names: dict[UUID | None, str] = {None: ""}
    taken: set[tuple[bool, str]] = set()
    for row in rows:
        is_event = row["starts_on"] is not None
        name = row["name"]
        if (is_event, name) in taken:
            name = f"{name} ({row['starts_on']})"
        number = 2
        while (is_event, name) in taken:
            name, number = f"{row['name']} ({row['starts_on']}, {number})", number + 1
        taken.add((is_event, name))
        names[row["id"]] = name
    return names


def _rows(facts: _Facts, year: int) -> Iterator[YearRow]:
    for row in facts.lines:
        yield from _line_rows(row, facts, year)
    for row in facts.taxed:
        tax = facts.terms[row["tax_period"]].settings
        inside = tax_within(row["price_minor"], tax) * row["lines"]
        yield _row(facts, row, dt.date(year, row["month"], 1), "tax", -inside)
    for row in facts.goods:
        day = dt.date(year, row["month"], 1)
        yield _row(facts, row, day, "cost_of_goods", -row["cost_minor"], row["pieces"])
    for row in facts.gone:
        cost = (row["cost_minor"] or 0) * row["pieces"]
        yield _row(facts, row, row["day"], "cost_of_goods", -cost, row["pieces"])
    for row in facts.costs:
        yield _row(facts, row, row["day"], row["kind"], -row["amount_minor"])
    for row in facts.boxes:
        yield from _box_rows(row, facts)


def _line_rows(row: Row, facts: _Facts, year: int) -> Iterator[YearRow]:
    day = dt.date(year, row["month"], 1)
    amounts: dict[str, int] = {row["account"]: row["amount_minor"] - row["postage_minor"]}
    if not row["is_income"]:
        amounts["not_income"] = -row["amount_minor"]
    amounts["postage"] = row["postage_minor"] - row["postage_cost_minor"]
    amounts["tax"] = -row["tax_minor"]
    if row["taxable_minor"] is not None:
        tax = facts.terms[row["tax_period"]].settings
        amounts["tax"] -= tax_within(row["taxable_minor"], tax) * row["lines"]
    amounts["fees"] = amounts.get("fees", 0) - row["fee_minor"]
    if row["fee_base_minor"] is not None and row["fee_period"]:
        schedule = facts.fees.on(row["channel_id"], facts.changes[row["fee_period"] - 1])
        amounts["fees"] -= fees_of_payment(schedule, row["fee_base_minor"]) * row["lines"]
    for account, amount in amounts.items():
        if amount:
            yield _row(facts, row, day, account, amount)


def _box_rows(row: Row, facts: _Facts) -> Iterator[YearRow]:
    """Reckon a counted cash box as the result of its event does."""
    day: dt.date = row["day"]
    [box] = cash_boxes(
        EventFacts(
            currency="",
            days=(
                EventDay(
                    day=day,
                    float_minor=row["float_minor"],
                    counted_cash_minor=row["counted_cash_minor"],
                    taken_out_minor=row["taken_out_minor"],
                    every_cash_sale_noted=row["every_cash_sale_noted"],
                ),
            ),
            takings=(
                Takings(
                    id="", day=day, method="cash", amount_minor=row["noted_minor"], state="matched"
                ),
            ),
            refunds=(Refund(id="", day=day, method="cash", amount_minor=row["refunded_minor"]),),
        )
    )
    if box.unnoted_minor:
        yield _row(facts, row, day, "takings", box.unnoted_minor)
        tax = terms_on(facts.terms, row["starts_on"]).settings
        if inside := tax_within(box.unnoted_minor, tax):
            yield _row(facts, row, day, "tax", -inside)
    if box.over_short_minor:
        yield _row(facts, row, day, "over_short", box.over_short_minor)


def _row(  # noqa: PLR0917 - one row's fields
    facts: _Facts,
    row: Row,
    day: dt.date,
    account: str,
    amount_minor: int,
    pieces: int = 0,
) -> YearRow:
    return YearRow(
        day=day,
        channel=facts.names[row["channel_id"]],
        event=facts.names.get(row["event_id"], ""),
        account=account,
        amount_minor=amount_minor,
        pieces=pieces,
    )


def _stock(facts: _Facts, on: dt.date) -> StockOnHand:
    """Take what was missing at events and never sold off what was not sold."""
    held: dict[tuple[str | None, int | None], tuple[int, int]] = {}

    def add(row: Row, pieces: int, worth_minor: int | None = None) -> None:
        key = (row["category"], row["cost_minor"])
        count, worth = held.get(key, (0, 0))
        if worth_minor is None:
            worth_minor = pieces * (row["cost_minor"] or 0)
        held[key] = (count + pieces, worth + worth_minor)

    for row in facts.unsold:
        add(row, row["pieces"], row["worth_minor"])
    for row in facts.away:
        if row["still_away"]:
            add(row, -row["still_away"])
    items = (
        StockItem(
            item_id="",
            acquired_on=None,
            quantity=count,
            cost_minor=cost,
            category=category,
            worth_minor=worth,
        )
        for (category, cost), (count, worth) in held.items()
    )
    return stock_on_hand(items, on)


def _notes(facts: _Facts, shop: Shop) -> Iterator[str]:
    counted = {row["event_id"] for row in facts.gone}
    unsettled = sum(
        row["open_minor"]
        for row in facts.lines
        if row["account"] == "takings" and row["is_income"] and row["event_id"] not in counted
    )
    if unsettled:
        yield (
            f"Takings of {to_text(unsettled, shop.currency)} are not settled and their event's "
            "rail was not counted: what their pieces had cost is not taken off."
        )
    without = sum(row["without_cost"] for row in facts.goods)
    without += sum(row["pieces"] for row in facts.gone if row["cost_minor"] is None)
    if without:
        yield f"{without} pieces sold have no cost entered: nothing is taken off for them."
