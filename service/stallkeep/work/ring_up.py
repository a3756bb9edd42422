"""Write down a sale as a person made it: at the stall in a hurry, or typed in afterwards.

What was sold at the stall is a fact, so such a sale is always kept. When a piece is sold already,
or the code is nobody's, the line is kept untagged and a conflict says so. A typed sale is refused
instead: the person at the desk can look again.

A card payment will come with an export, and the sale waits for it. Money that no export tells of
(cash, a transfer, other) is written as a transaction of its own, so that the takings add up.

The prices of the lines are as the shop states prices; sales tax and the rounding to the smallest
coin are worked out from the shop's settings and kept with the sale.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any, Final
from uuid import UUID
from zoneinfo import ZoneInfo

import msgspec

from stallkeep.domain.errors import IdTakenError, ItemAlreadySoldError, RejectedInputError
from stallkeep.domain.tax import Receipt, TaxSettings, receipt
from stallkeep.store import conflicts, items, sales
from stallkeep.store.channels import Channel
from stallkeep.store.connection import Connection
from stallkeep.store.events import Event
from stallkeep.store.ids import new_id
from stallkeep.store.shops import Shop
from stallkeep.store.turns import sale_turn
from stallkeep.work.bill_sale import line_taxes, sale_columns, tax_on
from stallkeep.work.own_payment import OWN_METHODS, add_own_payment
from stallkeep.work.references import Named, match_items, need_channel, need_event
from stallkeep.work.stock_errors import SaleMisplacedError, UnknownReferenceError
from stallkeep.work.take_listings import stored_code

SECOND_CLAIM: Final = "second-claim"
UNKNOWN_CODE: Final = "unknown-code"


class NewLine(msgspec.Struct, frozen=True, kw_only=True):
    """A line as entered; without a name it is an untagged piece. The price is for all of it.

    Where the shop adds tax at the till, the price is without it.
    """

    named: Named | None = None
    title: str | None = None
    quantity: int = 1
    price_minor: int


class NewSale(msgspec.Struct, frozen=True, kw_only=True):
    """A sale as entered.

    Attributes:
        id: The client's own, so that sending twice does no harm; None to get one.
        channel_id: None for the event's.
        event_id: None for none.
        origin: "stall" or "typed".
        method: How it was paid; None when not known.
        sold_at: The moment; None when only the day is known.
        sold_on: The day; None for that of the moment, or today.
        note: Free text.
        lines: At least one.
    """

    id: UUID | None = None
    channel_id: UUID | None = None
    event_id: UUID | None = None
    origin: str
    method: str | None
    sold_at: dt.datetime | None = None
    sold_on: dt.date | None = None
    note: str | None = None
    lines: Sequence[NewLine]


class RungUp(msgspec.Struct, frozen=True, kw_only=True):
    """A written sale, and what a person must look at."""

    sale: sales.Sale
    lines: list[sales.SaleLine]
    conflicts: list[conflicts.Conflict]
    is_new: bool


class _Settled(msgspec.Struct, frozen=True):
    """A line and the item that it takes from stock, if any; or why it takes none."""

    line: NewLine
    item: items.Item | None
    conflict_kind: str | None = None
    detail: str = ""


async def ring_up(
    con: Connection, shop: Shop, new: NewSale, *, said_by: str, now: dt.datetime
) -> RungUp:
    """Write a sale, once for each id.

    Args:
        con: In the shop's scope.
        shop: The shop.
        new: What was entered.
        said_by: Name of the token, for the match of its own payment.
        now: The present moment.

    Raises:
        IdTakenError: Another sale has the id.
        UnknownReferenceError: A channel, an event or (typed) a piece is none of the shop's.
        SaleMisplacedError: The event is of another channel, or not held today without a day given.
        ItemAlreadySoldError: (typed) There are not that many pieces left.
    """
    sale_id = new.id or new_id()
    await sale_turn(con, shop.shop_id, sale_id)
    known = await sales.find_sale(con, shop.shop_id, sale_id)
    if known is not None:
        return await _again(con, shop, known, new)
    values, channel = await _values(con, shop, new, now)
    settled = await _settle(con, shop, new)
    tax = tax_on(channel, shop, values["sold_on"])
    billed = _bill(tax, new, settled)
    values |= sale_columns(tax, billed) | {"shop_id": shop.shop_id, "id": sale_id}
    sale = await sales.add_sale(con, values)
    await sales.add_lines(con, shop.shop_id, _rows(sale_id, settled, line_taxes(tax, billed)))
    if sale.method in OWN_METHODS:
        sale = await add_own_payment(con, shop, sale, said_by)
    raised = [
        await _raise(con, shop, sale, one) for one in settled if one.conflict_kind is not None
    ]
    lines = (await sales.lines_of(con, shop.shop_id, [sale_id]))[sale_id]
    return RungUp(sale=sale, lines=lines, conflicts=raised, is_new=True)


async def _again(con: Connection, shop: Shop, known: sales.Sale, new: NewSale) -> RungUp:
    lines = (await sales.lines_of(con, shop.shop_id, [known.id]))[known.id]
    stored = [(line.quantity, line.price_minor) for line in lines]
    same = stored == [(line.quantity, line.price_minor) for line in new.lines] and all(
        _may_be(line, entered) for line, entered in zip(lines, new.lines, strict=True)
    )
    if not same or (known.method, known.origin) != (new.method, new.origin):
        raise IdTakenError(f"The shop has another sale {known.id}")
    return RungUp(sale=known, lines=lines, conflicts=[], is_new=False)


def _may_be(line: sales.SaleLine, entered: NewLine) -> bool:
    """Tell whether a stored line can be this entry; one kept untagged names no piece any more."""
    if line.item_id is None:
        return True
    named = entered.named
    if named is None:
        return False
    if named.item_id is not None:
        return named.item_id == line.item_id
    return named.tag_code is not None and stored_code(named.tag_code) == line.tag_code


async def _values(
    con: Connection, shop: Shop, new: NewSale, now: dt.datetime
) -> tuple[dict[str, Any], Channel]:
    """Fill in what was left out: the event's channel, the day of the moment, now."""
    event = await need_event(con, shop.shop_id, new.event_id) if new.event_id else None
    channel_id = new.channel_id or (event.channel_id if event else None)
    if channel_id is None:
        raise UnknownReferenceError("Say on which channel or at which event", "#/channel_id")
    channel = await need_channel(con, shop.shop_id, channel_id)
    if event is not None:
        _check_event(shop, new, event, channel, now)
    sold_at = new.sold_at or (now if new.sold_on is None else None)
    local = sold_at.astimezone(ZoneInfo(shop.time_zone)).date() if sold_at else None
    if new.sold_on and local and new.sold_on != local:
        raise RejectedInputError(f"In {shop.time_zone} that moment is on {local}", sold_on=local)
    values: dict[str, Any] = {
        "channel_id": channel_id,
        "event_id": new.event_id,
        "origin": new.origin,
        "method": new.method,
        "sold_at": sold_at,
        "sold_on": new.sold_on or local,
        "note": new.note,
    }
    return values, channel


def _check_event(
    shop: Shop, new: NewSale, event: Event, channel: Channel, now: dt.datetime
) -> None:
    """A sale of an event is on its channel, and of today only while the event is held."""
    if channel.id != event.channel_id:
        raise SaleMisplacedError(
            f"{event.name} is not an event of the channel {channel.name}; leave the channel out",
            "#/channel_id",
        )
    today = now.astimezone(ZoneInfo(shop.time_zone)).date()
    is_on = event.starts_on <= today <= event.ends_on
    if new.sold_at is None and new.sold_on is None and not is_on:
        raise SaleMisplacedError(
            f"Say on which day it was sold: {event.name} is held from {event.starts_on} to "
            f"{event.ends_on}, and today is {today}",
            "#/sold_on",
        )


def _bill(tax: TaxSettings, new: NewSale, settled: Sequence[_Settled]) -> Receipt:
    prices = [line.price_minor for line in new.lines]
    untaxed = [n for n, one in enumerate(settled) if one.item and one.item.margin_scheme]
    return receipt(prices, tax, in_cash=new.method == "cash", untaxed=untaxed)


async def _settle(con: Connection, shop: Shop, new: NewSale) -> list[_Settled]:
    """Find each line's item and keep count of what is left; the rows stay locked."""
    named = [line.named or Named() for line in new.lines]
    found = await match_items(con, shop.shop_id, named, lock=True)
    taken: Counter[UUID] = Counter()
    settled = []
    for place, (line, item) in enumerate(zip(new.lines, found, strict=True)):
        if line.named is None:
            one = _Settled(line, None)
        elif item is None:
            one = _unknown(line, place, is_fact=new.origin == "stall")
        elif item.left - taken[item.id] < line.quantity:
            one = _sold_out(line, item, is_fact=new.origin == "stall")
        else:
            taken[item.id] += line.quantity
            one = _Settled(line, item)
        settled.append(one)
    return settled


def _unknown(line: NewLine, place: int, *, is_fact: bool) -> _Settled:
    name = _name(line)
    if not is_fact:
        raise UnknownReferenceError(f"The shop has no piece {name}", f"#/lines/{place}")
    return _Settled(line, None, UNKNOWN_CODE, f"A sale names the piece {name}, which nobody has")


def _sold_out(line: NewLine, item: items.Item, *, is_fact: bool) -> _Settled:
    detail = f"{item.tag_code} ({item.title}) was sold again, and {item.left} were left"
    if not is_fact:
        raise ItemAlreadySoldError(detail, tag_code=item.tag_code, left=item.left)
    return _Settled(line, item, SECOND_CLAIM, detail)


def _name(line: NewLine) -> str:
    named = line.named or Named()
    return named.tag_code or str(named.item_id)


def _rows(
    sale_id: UUID, settled: Sequence[_Settled], taxes_minor: Sequence[int | None]
) -> list[Mapping[str, object]]:
    return [
        {
            "sale_id": sale_id,
            "line_no": number,
            "item_id": one.item.id if one.item and one.conflict_kind is None else None,
            "title": _title(one),
            "quantity": one.line.quantity,
            "price_minor": one.line.price_minor,
            "cost_minor": _cost(one),
            "tax_minor": tax_minor,
        }
        for number, (one, tax_minor) in enumerate(zip(settled, taxes_minor, strict=True), 1)
    ]


def _title(one: _Settled) -> str | None:
    if one.line.title:
        return one.line.title
    if one.conflict_kind == SECOND_CLAIM and one.item:
        return f"{one.item.title} ({one.item.tag_code})"
    if one.item:
        return one.item.title
    return _name(one.line) if one.line.named else None


def _cost(one: _Settled) -> int | None:
    cost = one.item.cost_minor if one.item and one.conflict_kind is None else None
    return None if cost is None else cost * one.line.quantity


async def _raise(
    con: Connection, shop: Shop, sale: sales.Sale, one: _Settled
) -> conflicts.Conflict:
    values = {
        "shop_id": shop.shop_id,
        "id": new_id(),
        "kind": one.conflict_kind,
        "item_id": one.item.id if one.item else None,
        "transaction_id": sale.transaction_id,
        "event_id": sale.event_id,
        "detail": f"{one.detail} (sale {sale.id})",
    }
    return await conflicts.add_conflict(con, values)
